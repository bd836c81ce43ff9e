"""Which comments of an episode ask the same."""

from collections import defaultdict

from ..record import Answer
from .seeking import Sought

ALIKE = 0.62
SAME_MOMENT = 8.0  # seconds between the answers of two questions that ask the same


def likeness(a: Sought, b: Sought, first_a: Answer | None, first_b: Answer | None) -> float:
    """How likely two questions ask the same, from 0 to 1: the same wanted, of the same thing, answered by the same moment."""
    wants_a, wants_b = [w.name for w in a.wants], [w.name for w in b.wants]
    both = set(wants_a) & set(wants_b)
    if wants_a and wants_b and not both:
        return 0.0
    score = 0.0
    if both:
        score += 0.3 if all(w.vague for w in a.wants if w.name in both) else 0.42
        score += 0.08 if wants_a[0] == wants_b[0] else 0.0
    common = sum(min(a.items[i], b.items[i]) for i in a.items.keys() & b.items.keys())
    score += 0.6 * common / max(1.5, min(sum(a.items.values()), sum(b.items.values())))
    if a.heads & b.heads:
        score += 0.14 if a.parts & b.parts or not (a.parts and b.parts) else 0.1
    elif a.parts and b.parts:
        score += 0.1 if a.parts & b.parts else -0.15
    elif a.parts or b.parts:
        score -= 0.08
    if first_a and first_b and abs(first_a.start - first_b.start) < SAME_MOMENT:
        score += 0.5 * min(first_a.confidence, first_b.confidence)
    return min(1.0, max(0.0, score))


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
