"""What a slot may mean or be done with: the things spoken of near it, each with signs for the trained reader (reader.py).

The order of the numbers is part of the reader's weights: change it, and the reader must be taught anew (benchmarks/teach).
"""

from collections import Counter

from .clauses import PREPOSITIONS, head
from .signs import Signs, folded
from .slots import Slot

REACH, AHEAD = 8, 2   # lines of talk back and on (Talk.back)
_ROLES = ("to", "ground")
_BY = {"with", "using"}
_AIDS = {"tool", "supply"}


class Offers:
    """The things offered to slots: parts for a pronoun, tools or supplies for whatever is done."""

    def __init__(self, seen: Signs, things: list[Slot]) -> None:
        self.seen, self.things = seen, things
        self.names = [frozenset(seen.names(t)) for t in things]
        self.at = [seen.told[t.told].sentence for t in things]
        self.in_sentence: dict[int, list[int]] = {}
        self.itself = {id(t): m for m, t in enumerate(things)}
        for m, n in enumerate(self.at):
            if things[m].is_part:
                self.in_sentence.setdefault(n, []).append(m)
        self.how_often: list[int] = []
        count: Counter[frozenset[str]] = Counter()
        for names in self.names:
            count[names] += 1
            self.how_often.append(count[names])

    def to(self, slot: Slot, first: int = 0) -> list[int]:
        """Indices of what is offered to a slot, in their order, from sentence `first` on; a noun that is no part of the trade is offered to itself alone."""
        at, talk = self.seen.told[slot.told].sentence, self.seen.talk
        start = at
        while start > first and talk.back(at, start - 1) <= REACH:
            start -= 1
        offered = [m for n in range(start, at + 1) for m in self.in_sentence.get(n, ())]
        mine = self.itself.get(id(slot))
        return offered if mine is None or slot.is_part else [*offered, mine]

    def owners(self, slot: Slot, first: int = 0, end: int | None = None) -> list[int]:
        """Indices of what a bare word ("the screw") may belong to, or be the short name of, from sentence `first` on and before sentence `end`."""
        at, talk = self.seen.told[slot.told].sentence, self.seen.talk
        end, ahead = len(talk.docs) if end is None else end, []
        for n in range(at + 1, end):
            if talk.back(n, at) > AHEAD:
                break
            ahead += self.in_sentence.get(n, ())
        return [m for m in (*self.to(slot, first), *ahead) if self.things[m] is not slot and not self._same_word(slot, self.things[m])]

    @staticmethod
    def _same_word(slot: Slot, other: Slot) -> bool:
        """Does the other say no more than the slot: "the screw" beside "the screws"?"""
        return other.is_bare and head(other.unit.text) == head(slot.unit.text)

    def signs(self, slot: Slot, offered: list[int]) -> list[list[float]]:
        """One row of signs for each offer."""
        seen, unit, at = self.seen, slot.unit, self.seen.told[slot.told].sentence
        steps = seen.steps_in.get(seen.talk.sentences[at].id, ())
        ruled = {folded(x) for s in steps for x in (s.part, s.tool, s.supply) if x}
        many, qty = getattr(unit, "plural", None), getattr(unit, "qty", None)
        kind, own = (head(unit.text), seen.names(slot)) if slot.is_bare else (None, set())
        before = [m for m in offered if (self.things[m].told, self.things[m].place) < (slot.told, slot.place)]
        newest = list(dict.fromkeys(self.names[m] for m in reversed(before)))
        rows = []
        for m in offered:
            thing, names = self.things[m], self.names[m]
            back = max(1, round(seen.talk.back(at, self.at[m]))) if self.at[m] < at else 0
            clause, its = seen.told[thing.told].clause.units, thing.unit
            k = next((n for n, u in enumerate(clause) if u is its), 0)
            ahead = clause[k - 1].text if k else ""
            far = (0 if m in before else 1) if back == 0 else min(1 + back, 9)
            agrees = (0 if its.plural else 1) if many is True else (2 if its.plural else 3) if many is False else 4
            rank = newest.index(names) if names in newest else len(newest)
            roles = {r for f in seen.told[thing.told].frames for r in _ROLES if its in getattr(f, r)}
            off, on = seen.state(names, at)
            rows.append([float(far == n) for n in range(10)] + [float(agrees == n) for n in range(5)] + [float(r in roles) for r in _ROLES] + [
                float(thing.told == slot.told), float(k == 0), float(ahead in _BY), float(ahead in PREPOSITIONS), float(len(its.text.split()) == 1),
                float(bool(qty and qty > 1 and qty == its.qty)), float(rank == 0), 1 / (1 + rank), min(self.how_often[m], 8) / 8, float(off), float(on),
                float(bool(names & ruled)), seen.told[thing.told].doubt, float(thing is slot)] + self._belongs(None if its.group in _AIDS else kind, own, names))
        return rows

    def _belongs(self, kind: str | None, own: set[str], names: frozenset[str]) -> list[float]:
        """How a part offered goes with a bare word (`kind`): it is such a piece, the trade knows such a piece of the offer, the rules take it (`own`) for the one or the other."""
        if kind is None:
            return [0.0] * 5
        same = any(n.split()[-1] == kind for n in names)
        of_it = {f"{n} {kind}" for n in names}
        return [1.0, float(same), float(bool(of_it & self.seen.known)), float(bool(of_it & own)), float(same and bool(names & own))]
