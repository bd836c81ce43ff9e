"""description.txt: what goes under the video. Summary, chapters, tools and supplies, within the video host's limit."""

from ..record import Episode
from . import chapters
from .guide import reel_name
from .plain import clean, clock
from .settings import WritingSettings


def description(episode: Episode, marks: list[chapters.Mark], settings: WritingSettings) -> str:
    """Never longer than `settings.description_length` characters; where it would be, the ends of the lists go, then the last chapters."""
    blocks = [_summary(episode)]
    if len(marks) >= settings.chapters.least:
        blocks.append(_fitting("Chapters", [f"{clock(m.start)} {m.title}" for m in marks], settings.description_length - len(blocks[0]) - 4))
    for title, things in (("Tools", episode.tools), ("Supplies", episode.supplies)):
        rows = [f"{clean(t.name)}{f' ({clock(t.at[0][0])})' if t.at else ''}" for t in things]
        blocks.append(_fitting(title, rows, settings.description_length - sum(len(b) + 2 for b in blocks) - 4))
    text = "\n\n".join(b for b in blocks if b) + "\n"
    # some hosts refuse angle brackets in a description
    return text.replace("<", "‹").replace(">", "›")


def _summary(episode: Episode) -> str:
    on_bench = [reel_name(r) for r in episode.reels if r.role == "on_bench"]
    sisters = list(dict.fromkeys(reel_name(r) for r in episode.reels if r.role == "same_service"))
    lines = [clean(episode.title)[:200]]
    if on_bench:
        lines.append(f"A full service of the {on_bench[0]}, step by step."[:200] if episode.steps else f"On the bench: {on_bench[0]}."[:200])
    if sisters:
        lines.append(f"The same service fits: {', '.join(sisters)}."[:300])
    return "\n".join(filter(None, lines))


def _fitting(title: str, rows: list[str], room: int) -> str:
    """A titled list of as many rows as fit; what is left out is counted, except for chapters, where a stray line would harm."""
    out, used = [], len(title) + 1
    for i, row in enumerate(rows):
        rest = len(rows) - i
        tail = 0 if title == "Chapters" or rest == 1 else len(f"and {rest} more") + 1
        if used + len(row) + 1 + tail > room:
            if title != "Chapters" and out:
                out.append(f"and {rest} more")
            break
        out.append(row)
        used += len(row) + 1
    return f"{title}\n" + "\n".join(out) if out else ""
