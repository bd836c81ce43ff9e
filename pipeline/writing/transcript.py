"""transcript.md: every sentence with its time; where a word was mended, what was heard stands beside it."""

import json
import re

from ..mending import REFUSED
from ..record import Episode, Sentence
from .guide import reel_name
from .ledger import table
from .plain import clock, markdown, moment_link
from .settings import WritingSettings


def transcript(episode: Episode, settings: WritingSettings) -> str:
    lines = [f"# {markdown(episode.title) or 'Transcript'}", ""]
    reels = ", ".join(markdown(reel_name(r)) for r in episode.reels if r.role == "on_bench")
    if reels:
        lines += [f"On the bench: {reels}", ""]
    mended = sum(any(m.applied for m in s.mends) for s in episode.sentences)
    lines += [f"{len(episode.sentences)} sentences, {mended} of them mended. A mended word is **bold**, with what was heard after it "
              "in ~~strikethrough~~, numbers written in figures too; a mend that was only suggested ends in a question mark.", ""]
    lines += _to_refuse(episode)
    starts = sorted(episode.chapters, key=lambda c: c.start)
    for sentence in episode.sentences:
        while starts and starts[0].start <= sentence.start + 0.01:
            chapter = starts.pop(0)
            lines += [f"## {timed(chapter.start, episode, settings)} {markdown(chapter.title)}", ""]
        lines += [f"{timed(sentence.start, episode, settings)} {_shown(sentence)}", ""]
    if episode.ledger:
        lines += ["## What came off, what went back on", "", table(episode, settings)]
    return "\n".join(lines).rstrip() + "\n"


def _to_refuse(episode: Episode) -> list[str]:
    """How to take a mend back, by the first one of this episode."""
    made = next(((s, m) for s in episode.sentences for m in s.mends if m.applied and m.from_.strip()), None)
    if not made:
        return []
    sentence, mend = made
    refuse = {"about": "mend", "at": round(sentence.start, 1), "words": mend.from_, "drop": True}
    teach = {"about": "mend", "words": mend.from_, "set": {"to": "what was meant"}}
    fence = "`" * max(3, 1 + max(map(len, re.findall("`+", mend.from_)), default=0))
    return ["A line in `corrections.json` refuses a mend, here and on every redo, or teaches another to all episodes:", "",
            f"{fence}json", json.dumps(refuse), json.dumps(teach), fence, ""]


def timed(seconds: float, episode: Episode, settings: WritingSettings) -> str:
    """The moment in brackets, a link where the episode has an address."""
    link = moment_link(episode.url, seconds, settings.time_parameter)
    return f"[{clock(seconds)}](<{link.replace('<', '%3C').replace('>', '%3E')}>)" if link else f"\\[{clock(seconds)}\\]"


def _shown(sentence: Sentence) -> str:
    """The sentence with its mends in place, and its numbers in figures."""
    said, taken, loose = sentence.text, [], []
    for mend, written in [*((m, m.to if m.applied else m.from_) for m in sentence.mends if m.why != REFUSED), *((n, n.from_) for n in sentence.numbers)]:
        places = re.finditer(re.escape(written), said, re.I) if written else ()
        place = next((m.span() for m in places if all(m.end() <= a or b <= m.start() for a, b, _ in taken)), None)
        if place:
            taken.append((*place, mend))
        elif mend in sentence.mends:
            loose.append(mend)
    out, at = [], 0
    for first, last, mend in sorted(taken, key=lambda row: row[:2]):
        there = said[first:last]
        shown = markdown_piece(mend.to if mend in sentence.numbers else there)
        out += [markdown_piece(said[at:first]), f"**{shown}** (~~{markdown(mend.from_)}~~)" if mend.applied else f"{shown} (or: {markdown(mend.to)}?)"]
        at = last
    out.append(markdown_piece(said[at:]))
    notes = "; ".join(f"heard ~~{markdown(m.from_)}~~, read as {markdown(m.to) or 'nothing'}" for m in loose)
    return "".join(out).strip() + (f" ({notes})" if notes else "")


def markdown_piece(text: str) -> str:
    """As `markdown`, with the spaces at the ends kept."""
    inner = markdown(text)
    return (" " if text[:1].isspace() else "") + inner + (" " if text[-1:].isspace() and inner else "")
