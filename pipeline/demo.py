"""The whole job on the sample episode."""

from pathlib import Path

from . import assets, runner
from .errors import BenchError
from .runner import Done, Tell
from .shop import SETTINGS_FILE, Shop

TITLE = "Servicing a Brindock Tamsel 12"


def run_demo(folder: Path, tell: Tell) -> Done:
    """Make a shop in `folder` and take the sample episode through it; in a demo shop that is there already, go on."""
    footage = sorted(assets.demo().glob("*.mp4"))
    if not footage:
        raise BenchError("the sample episode is missing", assets.demo(), "install sideplate again")
    if folder.exists() and not (folder / SETTINGS_FILE).exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BenchError("is there already and is not a shop", folder, "name another folder: sideplate demo DIR")
    shop = Shop.open(folder) if (folder / SETTINGS_FILE).exists() else Shop.make(folder)
    comments = assets.demo() / "comments.json"
    with shop.writing("sideplate demo"):
        return runner.add(shop, footage, comments=comments if comments.exists() else None, title=TITLE, tell=tell)
