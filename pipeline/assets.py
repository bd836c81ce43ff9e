"""Where the files that travel with the program lie: in the checkout, or inside an installed wheel."""

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def _travelling(name: str) -> Path:
    packed = _PACKAGE / f"_{name}"
    return packed if packed.is_dir() else _PACKAGE.parent / name


def templates() -> Path:
    """Folder of the Jinja2 and Typst templates."""
    return _travelling("templates")


def demo() -> Path:
    """Folder of the sample episode."""
    packed = _PACKAGE / "_demo"
    return packed if packed.is_dir() else _PACKAGE.parent / "sample_media" / "demo"
