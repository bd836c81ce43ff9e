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
              "in ~~strikethrough~~; a mend that was only suggested ends in a question mark.", ""]
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
    """The sentence with its mends in place, each found once from left to right."""
    said, at, out = sentence.text, 0, []
    loose = []
    for mend in sentence.mends:
        if mend.why == REFUSED:
            continue
        target = mend.to if mend.applied else mend.from_
        found = re.compile(re.escape(target), re.I).search(said, at) if target else None
        if not found:
            loose.append(mend)
            continue
        out.append(markdown_piece(said[at:found.start()]))
        shown = markdown_piece(found.group())
        out.append(f"**{shown}** (~~{markdown(mend.from_)}~~)" if mend.applied else f"{shown} (or: {markdown(mend.to)}?)")
        at = found.end()
    out.append(markdown_piece(said[at:]))
    notes = "; ".join(f"heard ~~{markdown(m.from_)}~~, read as {markdown(m.to) or 'nothing'}" for m in loose)
    return "".join(out).strip() + (f" ({notes})" if notes else "")


def markdown_piece(text: str) -> str:
    """As `markdown`, with the spaces at the ends kept."""
    inner = markdown(text)
    return (" " if text[:1].isspace() else "") + inner + (" " if text[-1:].isspace() and inner else "")
