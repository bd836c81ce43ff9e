"""How sure we are of each candidate, and which of those that overlap stands."""

import math
from dataclasses import dataclass
from functools import cache

from ..trade import data
from .candidates import Alike, find_pairs
from .evidence import weigh
from .scene import Scene
from .vocabulary import Said

FAINT = 0.1  # confidence below which a candidate is not worth keeping


@dataclass(frozen=True, slots=True)
class Candidate:
    first: int
    last: int                  # one past
    changed: tuple[int, int]   # the words of these that differ, as [first, last)
    said: Said
    confidence: float


def find_candidates(scene: Scene, vocabulary: tuple[Said, ...], alike: Alike) -> list[Candidate]:
    """The most likely reading of each stretch, best first, none overlapping. `alike` is kept between calls over the same vocabulary."""
    found = [
        Candidate(first, last, (first + pair.changed[0], first + pair.changed[1]), pair.said, sure) for first, last, pair, evidence in weigh(scene, find_pairs(scene, vocabulary, alike))
        if (sure := confidence(evidence)) > FAINT]
    taken, out = set(), []
    for c in sorted(found, key=lambda c: (-c.confidence, c.last - c.first, c.first)):
        if not taken & set(range(c.first, c.last)):
            taken |= set(range(c.first, c.last))
            out.append(c)
    return out


def confidence(evidence: dict[str, float]) -> float:
    """How likely a mend is right on this evidence: a logistic model, in which some evidence weighs by what other evidence says."""
    score = sum(weight * evidence[a] * (evidence[b] if b else 1) for a, b, weight in _weights()) + data("mending")["at_first"]
    return round(1 / (1 + math.exp(-max(-30.0, min(30.0, score)))), 3)


@cache
def _weights() -> list[tuple[str, str, float]]:
    """(evidence, other evidence or "", weight): "a * b" weighs both together."""
    return [(*(name.split(" * ") + [""])[:2], weight) for name, weight in data("mending")["weights"].items()]
