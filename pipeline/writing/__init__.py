"""Writing: the record to files, one writer a file. Nothing here knows of the shop."""

import shutil
import tempfile
from dataclasses import replace
from pathlib import Path

from ..mending import Mended
from ..record import Episode
from .settings import WritingSettings
from .stills import Still, take_stills

__all__ = ["WritingSettings", "write_out"]


def write_out(folder: Path, episode: Episode, mended: Mended, footage: list[Path] = (), settings: WritingSettings | None = None) -> list[Path]:
    """Write everything that gets published into `folder` and return the files, in the order of their worth to the host.

    Each file is whole or not there: it is written beside its place and moved in. Footage is only read, for stills and, with
    `settings.embed`, for a chaptered copy; without footage the guide has no pictures.
    """
    from ..mending.figures import in_figures
    from .captions import cut_captions, srt, vtt
    from .chapters import ffmetadata, matroska, podcast_json, published, text
    from .chapters import vtt as chapters_vtt
    from .description import description
    from .embed import embed_chapters
    from .guide import build_guide
    from .ledger import ledger
    from .lists import lists_csv, lists_md
    from .page import guide_html
    from .paper import guide_pdf
    from .questions import questions
    from .structured import structured
    from .transcript import transcript

    settings = settings or WritingSettings()
    folder.mkdir(parents=True, exist_ok=True)
    marks = published(episode.chapters, episode.duration, settings.chapters)
    words = [w for s, (a, b) in zip(mended.sentences, mended.spans) for w in in_figures(mended.words[a:b], s.numbers)]
    cues = cut_captions(words, settings.captions)
    stills = _stills(folder, episode, list(footage), settings)
    guide = build_guide(episode, settings, stills)
    written = [_put(folder / name, content) for name, content in (
        ("guide.html", guide_html(guide)),
        ("guide.pdf", guide_pdf(guide, folder, settings)),
        ("description.txt", description(episode, marks, settings)),
        ("captions.vtt", vtt(cues)),
        ("captions.srt", srt(cues)),
        ("chapters.txt", text(marks)),
        ("chapters.vtt", chapters_vtt(marks)),
        ("chapters.json", podcast_json(marks, episode, settings)),
        ("chapters.xml", matroska(marks, settings.language)),
        ("chapters.ffmetadata", ffmetadata(marks)),
        ("chapters.jsonld", structured(episode, marks, guide, settings)),
        ("transcript.md", transcript(episode, settings)),
        ("ledger.md", ledger(episode, settings)),
        ("parts-tools-supplies.csv", lists_csv(episode, settings)),
        ("parts-tools-supplies.md", lists_md(episode, settings)),
        ("questions.md", questions(episode, settings)),
        ("episode.json", episode.model_dump_json(by_alias=True, indent=1) + "\n"),
    )]
    if settings.embed and footage:
        written += embed_chapters(list(footage), marks, folder)
    return written


def _stills(folder: Path, episode: Episode, footage: list[Path], settings: WritingSettings) -> dict[str, Still]:
    """Fresh stills in folder/stills; those of an earlier run go. By step id, named by their paths beside the guide."""

    with tempfile.TemporaryDirectory(dir=folder, prefix=".stills-") as bench:
        fresh = Path(bench) / "stills"
        taken = take_stills(episode.steps, footage, fresh, settings) if settings.stills and footage else {}
        shutil.rmtree(folder / "stills", ignore_errors=True)
        if taken:
            fresh.rename(folder / "stills")
    return {step: replace(still, name=f"stills/{still.name}") for step, still in taken.items()}


def _put(path: Path, content: str | bytes) -> Path:
    part = path.with_name(f".{path.name}.part")
    part.write_bytes(content.encode("utf-8", "replace") if isinstance(content, str) else content)
    part.replace(path)
    return path
