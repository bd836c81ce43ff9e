"""Mentions gathered into the lists of parts, tools and supplies."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from ..reading.findings import Mention
from ..record import Fact, Named, Part
from ..trade import Trade

_SUREST = 0.95


@dataclass(frozen=True)
class Lists:
    parts: list[Part]
    tools: list[Named]
    supplies: list[Named]


def list_terms(mentions: list[Mention], trade: Trade, facts: Iterable[Fact] = ()) -> Lists:
    """One entry a thing, in the order of first mention. A part's number is the one spoken for it, its count the one said most."""
    numbers = {fact.part: fact.value for fact in reversed(list(facts)) if fact.kind == "part_number" and fact.part and fact.value}
    gathered: dict[tuple[str, str], list[Mention]] = defaultdict(list)
    for mention in mentions:
        gathered[mention.group, mention.name].append(mention)
    rows: dict[str, list] = {"part": [], "tool": [], "supply": []}
    for (group, name), said in gathered.items():
        entry = dict(name=name, names=list(dict.fromkeys([name, *(n for m in said for n in m.names)])),
                     at=list(dict.fromkeys((m.start, m.end) for m in said)), sentences=list(dict.fromkeys(m.sentence for m in said)),
                     confidence=_confidence(said))
        if group == "part":
            counts = Counter(m.qty for m in said if m.qty)
            rows[group].append(Part(**entry, qty=counts.most_common(1)[0][0] if counts else None, part_number=numbers.get(name)))
        else:
            rows[group].append(Named(**entry))
    return Lists(rows["part"], rows["tool"], rows["supply"])


def _confidence(said: list[Mention]) -> float:
    """As sure as the surest mention, and surer where the thing was named again and again."""
    best = max(m.confidence for m in said)
    return round(min(_SUREST, best + 0.02 * min(len({m.sentence for m in said}) - 1, 5)), 3)
