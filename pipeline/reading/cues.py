"""Cues: wordings that give a fact away, as data (trade/facts.toml), found in a sentence.

A cue is a regular expression written in words. A space stands for any space, comma or mark between two words; `{name}` for a word
list of the file, for a term of the trade ({part}, {tool}, {supply}) or for a kind of number ({count}, {length}, ...); ` .. `
for up to five words of the same clause.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple, get_args

from ..record import FactKind
from ..trade import data
from ..trade.numbers import Kind as NumberKind
from ..trade.numbers import Number

# Spans are marked in the text by pairs of private characters; literal words of a cue read over them.
_OPEN = {name: chr(0xE001 + i) for i, name in enumerate(("part", "tool", "supply", *get_args(NumberKind)))}
_SHUT = {name: chr(ord(mark) + 0x80) for name, mark in _OPEN.items()}
_MARK = "[\ue000-\ue0ff]*"


class Hit(NamedTuple):
    """One cue found: character offsets in the sentence's text."""

    kind: FactKind
    start: int
    end: int
    sure: float


@dataclass(frozen=True)
class _Cue:
    kind: FactKind
    sure: float
    pattern: re.Pattern
    unless: re.Pattern | None
    not_after: re.Pattern | None


@dataclass(frozen=True)
class Marked:
    """A sentence's text with its terms and numbers marked, and the way back to the text's own offsets."""

    text: str
    back: list[int]

    @classmethod
    def of(cls, text: str, terms: list[tuple[int, int, str]], numbers: list[Number]) -> "Marked":
        opens, shuts = {}, {}
        for start, end, name in [*terms, *((n.start, n.end, n.kind) for n in numbers)]:
            opens[start] = opens.get(start, "") + _OPEN[name]
            shuts[end] = _SHUT[name] + shuts.get(end, "")
        out, back = [], []
        for i, char in enumerate(text + " "):
            piece = shuts.get(i, "") + opens.get(i, "") + {"’": "'", "\n": " "}.get(char, char.lower() if len(char.lower()) == 1 else char)
            out.append(piece)
            back += [i] * len(piece)
        return cls("".join(out), [*back, len(text)])


def _compile(say: str) -> re.Pattern:
    lists = data("facts")["words"]
    for _ in range(3):  # a list may name another
        say = re.sub(r"\{(\w+)\}", lambda m: f"(?:{lists[m[1]]})" if m[1] in lists else m[0], say)
    say = re.sub(r"\{(\w+)\}", lambda m: f"{_OPEN[m[1]]}[^{_SHUT[m[1]]}.?!]*{_SHUT[m[1]]}", say)
    say = say.replace(" .. ", " (?:[^\\s.?!]+ ){0,5}?")
    say = say.replace(" ", rf"(?:{_MARK},?{_MARK}\s{_MARK})").replace("(?=", f"(?={_MARK}")
    return re.compile(r"(?<![\w'])" + say + r"(?!\w)")


@cache
def _cues() -> tuple[_Cue, ...]:
    return tuple(
        _Cue(row["kind"], row["sure"], _compile("(?:" + "|".join(row["say"]) + ")"),
             _compile("(?:" + "|".join(row["unless"]) + ")") if "unless" in row else None,
             _compile("(?:" + "|".join(row["not_after"]) + ") \\Z") if "not_after" in row else None)
        for row in data("facts")["cue"])


_STOP = re.compile(r"[.?!;]\s")


def find_cues(marked: Marked) -> Iterator[Hit]:
    """Every cue in a marked sentence; an `unless` wording in the same stretch between full stops silences one."""
    text = marked.text
    stops = [0, *(m.end() for m in _STOP.finditer(text)), len(text)]
    for cue in _cues():
        for match in cue.pattern.finditer(text):
            if cue.not_after and cue.not_after.search(text, max(0, match.start() - 24), match.start()):
                continue
            if cue.unless:
                first = max(s for s in stops if s <= match.start())
                last = min(s for s in stops if s >= match.end())
                if cue.unless.search(text, max(first, match.start() - 60), min(last, match.end() + 60)):
                    continue
            yield Hit(cue.kind, marked.back[match.start()], marked.back[match.end()], cue.sure)
