"""Counts that a speech model writes as other words: "free clutch screws, same driver" are three.

Only where such a word opens a clause right before several of a small piece (`counts` in pipeline/trade/mending.toml).
"""

from collections.abc import Sequence
from functools import cache

from ..hearing.words import Word
from ..trade import data
from .scene import STOPS, bare, opens

WHY = "a count heard wrong"
SURE = 0.9   # as often right on heard talks beside their scripts, about: benchmarks/hearing.md
REACH = 3    # words: so far behind its count a piece may stand ("free little brass screws")


def heard_counts(words: Sequence[Word], spans: Sequence[tuple[int, int]]) -> list[tuple[int, int, str, str, float]]:
    """Changes as (first word, one past the last, text, why, confidence)."""
    rules, counts = data("mending")["counts"], _counts()
    pieces, between = set(rules["pieces"]), set(rules["between"])
    out = []
    for first, last in spans:
        for at in range(first, last - 1):
            count = counts.get(bare(words[at].text))
            if count is None or not opens(words, first, at):
                continue
            piece = at + 1
            while piece < min(last - 1, at + REACH) and bare(words[piece].text) in between:
                piece += 1
            if bare(words[piece].text) in pieces and not any(w.text.endswith(STOPS) for w in words[at:piece]):
                out.append((at, at + 1, count, WHY, SURE))
    return out


@cache
def _counts() -> dict[str, str]:
    return {heard: count for count, ways in data("mending")["counts"]["heard_as"].items() for heard in ways}
