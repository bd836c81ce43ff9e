"""Does a comment ask something, and in which of its sentences?"""

import re
from dataclasses import dataclass, field

from .comments import Comment
from .cues import cues, one
from .wording import Wording, plain

LONGEST = 3_000     # letters of a comment that are read: what is asked stands before that
ASKS = 0.5          # from this chance on a sentence is a question
_QUOTED = re.compile(r"[\"“][^\"“”]{3,200}[\"”]")
_STOP = re.compile(r"(?<=[.?!…])[\"”)]?\s+|\n+")
_CLAUSE = re.compile(r"\s*(?:,|;|:| [-–—] |\.\.+)\s*|\s+(?=(?:but|and|or|so|because)\s)")
_OPENER = re.compile(
    r"^(?:(?:so|and|but|or|ok|okay|well|hey|hi|hello|hiya|oh|also|please|sorry|thanks|thank you|cheers|just|right|um|uh|yes|no|great video|now|"
    r"quick question|question|silly question|one question|one thing|folks|all|mate|sir|guys|everyone|because)\b[\s,.!:;-]*)+")
_ESCAPE = re.compile(r"\x1b\[[0-9;]*[A-Za-z]")
_SHORTENED = re.compile(r"\b(no|nr|vs|approx|etc|e\.g|i\.e)\.\s+(?=[a-z0-9])", re.I)


@dataclass
class Asked:
    """What one comment asks. `asks` as written, tidied; `plain` the same with slips put right; `around` the rest of the comment."""

    chance: float
    asks: list[str] = field(default_factory=list)
    plain: list[str] = field(default_factory=list)
    around: str = ""

    @property
    def is_question(self) -> bool:
        return bool(self.asks)


def asked(comment: Comment, wording: Wording, host_replied: bool = False) -> Asked:
    """Read one comment. A host's own comment asks nothing, nor does one that wants to sell."""
    if comment.from_host or one("spam").search(plain(comment.text[:LONGEST])):
        return Asked(0.0)
    text = _QUOTED.sub(lambda m: re.sub(r"[.?!\n]", "", m[0]), shown(comment.text[:LONGEST]))  # what another said is not asked
    sentences = [s.strip() for s in _STOP.split(_SHORTENED.sub(r"\1 ", text)) if s and s.strip()]
    whole = wording.right(text)
    trade_named = bool(wording.parts(wording.items(whole, fix=False)))
    idle = 1.0
    for cue in cues("idle"):
        if cue.unless_trade and cue.fires(whole, trade_named):
            idle *= 1 - cue.weight
    chances = [_chance(wording.right(_QUOTED.sub(" ", s))) * idle for s in sentences]
    if comment.reply_to and "?" not in comment.text:  # answers more often than it asks
        chances = [c * 0.75 for c in chances]
    if host_replied and "?" in comment.text:
        chances = [min(1.0, c * 1.35) for c in chances]
    picked = [i for i, c in enumerate(chances) if c >= ASKS]
    if not picked:
        return Asked(max(chances, default=0.0))
    rest = " ".join(s for i, s in enumerate(sentences) if i not in picked)
    return Asked(max(chances), [_tidy(sentences[i]) for i in picked], [wording.right(sentences[i]) for i in picked], wording.right(rest))


def parted(text: str) -> tuple[str, str]:
    """The first clause that asks, and the rest of its sentence: "what size is it, mine is worn" → "what size is it", "mine is worn"."""
    clauses = [c for c in _CLAUSE.split(text) if c and c.strip()]
    first = next((i for i, c in enumerate(clauses) if _chance(c) >= 0.4), None)
    if first is None:
        return text, ""
    last = first + 1
    while last < len(clauses) and (not _asks_anew(clauses[last])):  # "is it two of them, or four"
        last += 1
    return " ".join(clauses[first:last]), " ".join(clauses[:first] + clauses[last:])


_ANEW = re.compile(r"^(?:and |but |so |or )?(?:how|what|which|where|when|why|can|could|do|does|did|is|are|would|should|will|mine|my|i|i've|i'm|it's|you|we|they|because|so|since|as|but)\b")


def _asks_anew(clause: str) -> bool:
    return bool(_ANEW.search(clause.strip()))


def _chance(text: str) -> float:
    """How likely one sentence is a question, from 0 to 1."""
    text = text.strip(" \"'“”()*_")
    starts = [text, *_CLAUSE.split(text)]
    starts = list(dict.fromkeys(_OPENER.sub("", s).strip() for s in starts if s and s.strip()))
    no = yes = 1.0
    for cue in cues("asking"):
        if any(cue.fires(s, False) for s in [text, *starts]):
            no *= 1 - cue.weight
    for cue in cues("idle"):
        if not cue.unless_trade and cue.fires(text, False):
            yes *= 1 - cue.weight
    return (1 - no) * yes


def shown(text: str) -> str:
    """Without what moves a terminal's cursor or turns the direction of the text around it."""
    return "".join(c if c.isprintable() or c == "\n" else " " for c in _ESCAPE.sub("", text))


def _tidy(text: str) -> str:
    """One line, a capital at the start, no more than one question mark at the end."""
    text = " ".join(text.split())
    text = re.sub(r"[?!\s]*\?[?!\s]*$", "?", text)
    return text[:1].upper() + text[1:]
