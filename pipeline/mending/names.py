"""Names that the shop's glossary knows, in plain English: "the drag's grabby" is no Garrowby because the shop has serviced one."""

import re
from collections.abc import Collection, Mapping, Sequence

from ..hearing.words import Word
from .english import commonness
from .figures import GOES_ON
from .judge import Candidate
from .scene import bare

LONG = 3       # figures from which a number is hardly anything but a model's
ENGLISH = 2.0  # Zipf frequency from which a word is one that hosts use


def models_numbers(models: Collection[tuple[str, str]]) -> dict[str, set[str]]:
    """Family of the shop's own models, in lower case: their numbers."""
    known: dict[str, set[str]] = {}
    for _, model in models:
        family, _, number = model.lower().rpartition(" ")
        known.setdefault(family, set()).add(number)
    return known


def in_passing(words: Sequence[Word], mend: Candidate, names: Collection[str], numbers: Mapping[str, set[str]]) -> bool:
    """Would a name be put for plain words where nothing beside them tells of a reel: neither a number, one of the family's own where it is short and in figures, nor another of the `names` (single words, in lower case)?"""
    heard = [re.sub(r"['’]s?$", "", bare(w.text)) for w in words[mend.first:mend.last]]
    if not mend.said.is_name or any(commonness(w) < ENGLISH for w in heard):
        return False
    before, after = [bare(w.text) for w in words[max(0, mend.first - 1):mend.first]], [bare(w.text) for w in words[mend.last:mend.last + 2]]
    own = numbers.get(mend.said.text.lower())
    return not any(w in own if own and w.isdigit() and len(w) < LONG else w[:1].isdigit() or GOES_ON.match(w) for w in after) and not any(w in names for w in before + after)
