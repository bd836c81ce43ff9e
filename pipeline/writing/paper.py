"""guide.pdf: the guide on paper, tagged for assistive technology (PDF/UA-1), written with Typst from data alone."""

import json
import re
import shutil
import tempfile
import unicodedata
from pathlib import Path

from ..assets import templates
from .guide import Guide
from .settings import WritingSettings

_LONG_WORD = re.compile(r"[^\s\u200b]{28,}")
_MISSING = re.compile(r'the text `"((?:[^"\\]|\\.)*)"` could not be displayed')
_ESCAPED = re.compile(r"\\u\{([0-9a-fA-F]+)\}|\\(.)")


def guide_pdf(guide: Guide, folder: Path, settings: WritingSettings) -> bytes:
    """The guide as PDF/UA-1. Stills are read from `folder`. A character that no font at hand can show stands as U+FFFD."""
    import typst

    # Typst reads from this folder and from nowhere else
    with tempfile.TemporaryDirectory() as root:
        bench = Path(root)
        shutil.copyfile(templates() / "guide.typ", bench / "guide.typ")
        laid = _laid_out(guide, bench, folder, settings)
        # our own typeface first; a script that it lacks may be in the machine's fonts; what no font has is marked
        for system_fonts in (False, True, True, True):
            try:
                return _compile(bench, laid, system_fonts)
            except typst.TypstError as error:
                missing = _missing(error)
                if not missing:
                    raise
            if system_fonts:
                laid = _each_text(laid, lambda said: "".join("\ufffd" if c in missing else c for c in said))
        return _compile(bench, _each_text(laid, lambda said: said.encode("ascii", "replace").decode()), True)


def _compile(bench: Path, laid: dict, system_fonts: bool) -> bytes:
    import fontpkg_atkinson_hyperlegible as typeface
    import typst

    (bench / "guide.json").write_text(json.dumps(laid), "utf-8")
    return typst.compile(bench / "guide.typ", root=bench, format="pdf", pdf_standards=["ua-1"], font_paths=[typeface.ROOT / "files"],
                         ignore_system_fonts=not system_fonts)


def _missing(error) -> set[str]:
    """The characters that Typst names as not to be displayed."""
    found: set[str] = set()
    for said in _MISSING.findall(error.diagnostic or str(error)):
        found |= set(_ESCAPED.sub(lambda m: chr(int(m[1], 16)) if m[1] else m[2], said))
    return found - set(" ")


def _laid_out(guide: Guide, bench: Path, folder: Path, settings: WritingSettings) -> dict:
    """The guide's data as the template takes it; pictures are laid into `bench`."""
    laid = _each_text(guide.model_dump(mode="json"), _breakable)
    right_to_left = any(unicodedata.bidirectional(c) in ("R", "AL") for c in guide.model_dump_json())
    laid |= {"mark": "\u200e" if right_to_left else "", "paper": settings.paper, "foot": laid["reel"] or laid["title"], "language": guide.language}

    def qr(moment: dict) -> str | None:
        if not guide.url:
            return None
        name = f"qr-{int(moment['seconds'])}.svg"
        if not (bench / name).exists():
            _draw_qr(moment["link"], bench / name)
        return name

    for chapter, plain in zip(laid["chapters"], guide.chapters):
        chapter["moment"]["link"] = plain.moment.link
        chapter["qr"] = qr(chapter["moment"])
    for procedure, plain in zip(laid["procedures"], guide.procedures):
        procedure["moment"] = plain.steps[0].moments[0].model_dump()
        procedure["qr"] = qr(procedure["moment"])
        for step in procedure["steps"]:
            if step["still"]:
                still = bench / step["still"]
                still.parent.mkdir(exist_ok=True)
                shutil.copyfile(folder / step["still"], still)
    return laid


def _draw_qr(link: str, to: Path) -> None:
    import segno

    segno.make(link, error="m", micro=False).save(str(to), border=2)


def _breakable(said: str) -> str:
    """Zero-width spaces in words too long for a column, links left whole."""
    if said.startswith(("http://", "https://")):
        return said
    return _LONG_WORD.sub(lambda m: "\u200b".join(m[0][i:i + 14] for i in range(0, len(m[0]), 14)), said)


def _each_text(value, change):
    if isinstance(value, str):
        return change(value)
    if isinstance(value, dict):
        return {k: v if k in ("id", "still", "link", "language", "signal", "url") else _each_text(v, change) for k, v in value.items()}
    return [_each_text(v, change) for v in value] if isinstance(value, list) else value
