"""Washers of a drag stack that a speech model writes as other words, where a list names them one by one: "carbon, key, carbon, the air, carbon"
is keyed and eared (words: `stack` in pipeline/trade/mending.toml).
"""

from collections.abc import Sequence
from functools import cache

from ..hearing.words import Word
from ..trade import data
from .scene import bare, closes

WHY = "a washer in a list heard wrong"
SURE = 0.8
STUFF = 2    # others of the list that are named by what they are made of, at least
_LEAD = {"the", "a", "an", "and", "then", "another", "thin", "thick", "last", "first", "second", "other", "it's", "one", "two", "three", "four"}
_TAIL = {"one", "washer", "first", "last", "next", "on", "top", "again"}


def heard_stacks(words: Sequence[Word], spans: Sequence[tuple[int, int]]) -> list[tuple[int, int, str, str, float]]:
    """Changes as (first word, one past the last, text, why, confidence)."""
    meant, parts = _meant(), data("parts")
    stuff = {*parts["materials"], *parts["stack"], "metal"}
    out = []
    for first, last in spans:
        items = [item for item in _items(words, first, last) if item is not None]
        named = [bare(words[i].text) for i in items]
        if sum(n in stuff or n.rstrip("s") in stuff for n in named) >= STUFF:
            out += [(i, i + 1, meant[n], WHY, SURE) for i, n in zip(items, named) if n in meant]
    return out


def _items(words: Sequence[Word], first: int, last: int) -> list[int | None]:
    """For each item of a list the word that names it, None where it is more than a washer told by one word."""
    found, begins = [], first
    for i in range(first, last):
        if not closes(words, last, i) and bare(words[i + 1].text) not in {"and", "then"}:
            continue
        item = list(range(begins, i + 1))
        while item and bare(words[item[0]].text) in _LEAD:
            item.pop(0)
        found.append(item[0] if item and "'" not in words[item[0]].text and all(bare(words[k].text) in _TAIL for k in item[1:]) else None)
        begins = i + 1
    return found


@cache
def _meant() -> dict[str, str]:
    return {heard: look for look, ways in data("mending")["stack"].items() for heard in ways}
