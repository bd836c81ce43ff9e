"""Which comments of an episode ask the same."""

import math
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..record import Answer
from ..trade import data
from .meaning import Meaning, nearness, rest
from .seeking import Sought

if TYPE_CHECKING:
    import numpy as np

LATEST = 200    # questions that share something with a new one and are looked at, the latest ones
NEAREST = 40    # of these the nearest in meaning are compared in full
SIGNS = ("near", "wants", "other want", "head", "other part", "moments", "items", "near and wants", "items and wants", "rest", "heard", "heard and wants")


@dataclass(frozen=True)
class Asking:
    """A question ready for comparing: what it seeks, what the whole comment and its question mean, how much each sentence answers it."""

    id: str
    sought: Sought
    whole: Meaning
    asks: Meaning
    moments: dict[int, float]
    first: Answer | None
    heard: "np.ndarray | None" = None  # its direction as the encoder reads it, of length one


def signs(a: Asking, b: Asking) -> tuple[float, ...]:
    """What speaks for two questions asking the same, each from 0 to 1, in the order of SIGNS."""
    wants_a, wants_b = [w.name for w in a.sought.wants], [w.name for w in b.sought.wants]
    if set(wants_a) & set(wants_b):
        wants = 1.0 if wants_a[0] == wants_b[0] else 0.6
    else:
        wants = 0.0 if wants_a and wants_b else 0.3
    other = not wants and any(w.must for w in a.sought.wants) and any(w.must for w in b.sought.wants)
    mine, theirs = a.sought.items, b.sought.items
    items = sum(min(mine[i], theirs[i]) for i in mine.keys() & theirs.keys()) / max(1.5, min(sum(mine.values()), sum(theirs.values())))
    near = nearness(a.whole, b.whole, a.asks, b.asks)
    parts_a, parts_b = a.sought.parts, b.sought.parts
    heard = 0.0 if a.heard is None or b.heard is None else float(a.heard.astype("float32") @ b.heard.astype("float32"))
    return (near, wants, float(other), float(bool(a.sought.heads & b.sought.heads)), float(bool(parts_a and parts_b and not parts_a & parts_b)),
            _together(a.moments, b.moments), items, near * wants, items * wants, rest(a.asks, b.asks), heard, heard * wants)


def likeness(a: Asking, b: Asking) -> float:
    """How likely two questions ask the same, from 0 to 1."""
    fitted = data("asked")["alike"]
    sum_ = fitted["base"] + sum(fitted[name] * value for name, value in zip(SIGNS, signs(a, b)))
    return 1 / (1 + math.exp(-sum_))


def group(asked: list[Asking]) -> dict[str, str]:
    """The id of the first question that asks the same, for each that came later."""
    least = data("asked")["alike"]["least"]
    same: dict[str, str] = {}
    sharing: dict[str, list[int]] = defaultdict(list)
    for number, asking in enumerate(asked):
        keys = [*asking.sought.items, *(f"? {w.name}" for w in asking.sought.wants)] + ([f"@{asking.first.start}"] if asking.first else [])
        near = {n for key in keys for n in sharing[key][-LATEST:]} | set(range(max(0, number - NEAREST), number))
        nearest = sorted(near, key=lambda n: (-float(asked[n].whole.vector @ asking.whole.vector), n))[:NEAREST]
        best, of = max(((likeness(asked[n], asking), -n) for n in nearest), default=(0.0, 0))
        if best >= least:
            same[asking.id] = same.get(asked[-of].id, asked[-of].id)
        for key in keys:
            sharing[key].append(number)
    return same


def _together(a: dict[int, float], b: dict[int, float]) -> float:
    """Whether the same sentences answer both: the cosine of how much each of them does."""
    size = math.sqrt(sum(v * v for v in a.values()) * sum(v * v for v in b.values()))
    return sum(a[at] * b[at] for at in a.keys() & b.keys()) / size if size else 0.0
