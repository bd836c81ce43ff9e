"""Parts that a speech model writes as other words where they stand in short order: "start on, handle on, not on" is star, handle, nut, and so is
"star, handle, not, snug".

Only a clause of one such word and where it goes, or of the word alone beside another of a part alone, and only a part that the talk names elsewhere, too
(words: `slips` in pipeline/trade/mending.toml).
"""

from collections import Counter
from collections.abc import Sequence
from functools import cache

from ..hearing.words import Word
from ..trade import data
from .scene import STOPS, bare, closes, opens

WHY = "a part in short order heard wrong"
SURE = 0.8
WAYS = {"on", "off", "in", "out", "back"}


def heard_orders(words: Sequence[Word], spans: Sequence[tuple[int, int]]) -> list[tuple[int, int, str, str, float]]:
    """Changes as (first word, one past the last, text, why, confidence)."""
    slips, plain, said = _slips(), set(data("mending")["order_plain"]), Counter(bare(w.text) for w in words)
    out = []
    for first, last in spans:
        for at in range(first, last):
            if not opens(words, first, at) or "'" in words[at].text:
                continue
            word, alone = bare(words[at].text), closes(words, last, at)
            named = [p for p in slips[alone].get(word, ()) if said[p] or said[p + "s"]]
            if not named:
                continue
            if alone:
                meant = _part_alone(words, first, last, at)
            else:
                meant = bare(words[at + 1].text) in WAYS and closes(words, last, at + 1) and (word not in plain or _beside_another(words, first, at))
            if meant:
                out.append((at, at + 1, max(named, key=lambda p: said[p] + said[p + "s"]), WHY, SURE))
    return out


def _part_alone(words: Sequence[Word], first: int, last: int, at: int) -> bool:
    """Is a clause beside it a part and nothing else: "star, handle, not", "here, pinion, yoke"?"""
    before = at > first and opens(words, first, at - 1)
    after = at + 1 < last and words[at + 1].text.endswith(STOPS)
    return before and bare(words[at - 1].text) in _parts() or after and bare(words[at + 1].text) in _parts()


@cache
def _parts() -> frozenset[str]:
    return frozenset(n for row in data("parts")["part"] for n in (row["name"], *row.get("also", ())) if " " not in n)


def _beside_another(words: Sequence[Word], first: int, at: int) -> bool:
    """Does the clause before it tell of another part in the same way: "handle on, not on"?"""
    return at >= first + 2 and bare(words[at - 1].text) in WAYS and not words[at - 2].text.endswith(STOPS)


@cache
def _slips() -> tuple[dict[str, list[str]], dict[str, list[str]]]:
    """Plain words to parts: where a way follows, and where the word stands alone."""
    known, rules = _parts(), data("mending")
    out: tuple[dict[str, list[str]], dict[str, list[str]]] = ({}, {})
    for part, ways in rules["slips"].items():
        if part in known or part in data("parts")["heads"]:
            for never, kept in zip((rules["order_never"], rules["alone_never"]), out):
                for way in sorted(set(ways) - known - set(never)):
                    kept.setdefault(way, []).append(part)
    return out
