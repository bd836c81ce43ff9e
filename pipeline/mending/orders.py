"""Parts that a speech model writes as other words where they stand in short order: "start on, handle on, not on" is star, handle, nut.

Only a clause of one such word and where it goes, and only a part that the talk names elsewhere, too (words: `slips` in pipeline/trade/mending.toml).
"""

from collections import Counter
from collections.abc import Sequence
from functools import cache

from ..hearing.words import Word
from ..trade import data
from .scene import bare

WHY = "a part in short order heard wrong"
SURE = 0.8
WAYS = {"on", "off", "in", "out", "back"}
STOPS = tuple(",.;:!?")


def heard_orders(words: Sequence[Word], spans: Sequence[tuple[int, int]]) -> list[tuple[int, int, str, str, float]]:
    """Changes as (first word, one past the last, text, why, confidence)."""
    slips, plain, said = _slips(), set(data("mending")["order_plain"]), Counter(bare(w.text) for w in words)
    out = []
    for first, last in spans:
        for at in range(first, last - 1):
            parts = slips.get(bare(words[at].text), ())
            if not parts or words[at].text.endswith(STOPS) or bare(words[at + 1].text) not in WAYS:
                continue
            opens = at == first or words[at - 1].text.endswith(STOPS)
            closes = at + 2 == last or words[at + 1].text.endswith(STOPS)
            named = [p for p in parts if said[p] or said[p + "s"]]
            if opens and closes and named and (bare(words[at].text) not in plain or _beside_another(words, first, at)):
                out.append((at, at + 1, max(named, key=lambda p: said[p] + said[p + "s"]), WHY, SURE))
    return out


def _beside_another(words: Sequence[Word], first: int, at: int) -> bool:
    """Does the clause before it tell of another part in the same way: "handle on, not on"?"""
    return at >= first + 2 and bare(words[at - 1].text) in WAYS and not words[at - 2].text.endswith(STOPS)


@cache
def _slips() -> dict[str, list[str]]:
    parts = data("parts")
    known = {n for row in parts["part"] for n in (row["name"], *row.get("also", ()))}
    out: dict[str, list[str]] = {}
    for part, ways in data("mending")["slips"].items():
        if part in known or part in parts["heads"]:
            for way in set(ways) - known - set(data("mending")["order_never"]):
                out.setdefault(way, []).append(part)
    return out
