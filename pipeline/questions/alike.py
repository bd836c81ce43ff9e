"""Which comments of an episode ask the same."""

from collections import defaultdict

from ..record import Answer
from .seeking import Sought

ALIKE = 0.5


def likeness(a: Sought, b: Sought, first_a: Answer | None, first_b: Answer | None) -> float:
    """How likely two questions ask the same, from 0 to 1."""
    wants_a, wants_b = {w.name for w in a.wants}, {w.name for w in b.wants}
    same_want = len(wants_a & wants_b) / max(1, min(len(wants_a), len(wants_b)))
    if not same_want and wants_a and wants_b:
        return 0.0
    common = sum(min(a.items[i], b.items[i]) for i in a.items.keys() & b.items.keys())
    share = common / max(0.1, min(sum(a.items.values()), sum(b.items.values())))
    same_parts = bool(a.parts & b.parts)
    score = 0.75 * share * (0.6 + 0.4 * same_want) + (0.15 if same_parts else 0.0)
    if first_a and first_b and first_a.start == first_b.start:
        score += 0.8 * min(first_a.confidence, first_b.confidence) * (same_want or 0.5)
    return min(1.0, score)


def group(asked: list[tuple[str, Sought, Answer | None]]) -> dict[str, str]:
    """The id of the first question that asks the same, for each that came later."""
    same: dict[str, str] = {}
    by_item: dict[str, list[int]] = defaultdict(list)
    for number, (id, sought, first) in enumerate(asked):
        near = {n for item in sought.items for n in by_item[item][-200:]}
        if first:
            near |= set(by_item[f"@{first.start}"][-200:])
        best, of = max(((likeness(asked[n][1], sought, asked[n][2], first), -n) for n in near), default=(0.0, 0))
        if best >= ALIKE:
            same[id] = same.get(asked[-of][0], asked[-of][0])
        for item in sought.items:
            by_item[item].append(number)
        if first:
            by_item[f"@{first.start}"].append(number)
    return same
