"""guide.html: the guide on a screen beside the reel. One file and its stills; no script, nothing fetched."""

import base64
import hashlib
from functools import cache

from ..assets import templates
from .guide import Guide


@cache
def _page():
    from jinja2 import Environment, FileSystemLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(loader=FileSystemLoader(templates()), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    style = (templates() / "guide.css").read_text("utf-8")
    # the page's own style is named by its hash, so that its Content-Security-Policy lets in no other
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    environment.globals |= {"style": Markup(style), "style_hash": f"sha256-{digest}"}
    return environment.get_template("guide.html")


def guide_html(guide: Guide) -> str:
    return _page().render(guide=guide)
