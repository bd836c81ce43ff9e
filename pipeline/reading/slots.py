"""Where in the talk something may be done to a part: one slot for each part or pronoun of a clause, or for what a clause leaves out."""

from dataclasses import dataclass, field

from spacy.tokens import Doc

from ..trade import data
from .clauses import Clause, Unit, head
from .frames import Frame


@dataclass(slots=True)
class Told:
    """One clause with what the rules read in it."""

    sentence: int
    clause: Clause
    frames: list[Frame]
    doubt: float                 # 1 told as done now, 0 not
    share: float                 # how far into its sentence it stands, 0 to 1
    slots: list[int] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Slot:
    """One place for a part. `place` and `clause` are stretches of characters of the sentence."""

    told: int                    # index of its clause
    unit: Unit | None            # the part or pronoun said, None where the clause leaves it out
    place: tuple[int, int]
    clause: tuple[int, int]

    @property
    def kind(self) -> str:
        """thing | noun (one that the trade's list lacks) | pro | none"""
        return "none" if self.unit is None else "noun" if self.unit.group == "noun" else self.unit.kind


def slots_of(told: list[Told], docs: list[Doc]) -> list[Slot]:
    """The slots of a talk in order; each clause learns the indices of its own."""
    heads = set(data("parts")["heads"]) | set(data("actions")["parts"]["generic"])
    out: list[Slot] = []
    for k, t in enumerate(told):
        doc, first = docs[t.sentence], t.clause.at
        after = [x.clause.at for x in told[k + 1:k + 2] if x.sentence == t.sentence and x.clause.at > first]
        last = max(first, min((after[0] if after else len(doc)) - 1, len(doc) - 1))
        units = [u for u in t.clause.units if u.kind == "pro" or u.kind == "thing" and (u.group == "part" or u.group == "noun" and head(u.text) in heads)]
        for unit in units or [None]:
            a, b = _tokens(unit, doc, first, last)
            t.slots.append(len(out))
            out.append(Slot(k, unit, (doc[a].idx, doc[b].idx + len(doc[b])), (doc[first].idx, doc[last].idx + len(doc[last]))))
    return out


def _tokens(unit: Unit | None, doc: Doc, first: int, last: int) -> tuple[int, int]:
    """First and last token of what is said."""
    if unit is None:
        return first, last
    if unit.kind == "thing" and unit.group == "part":
        span = next((s for s in doc.spans["terms"] if s.start == unit.at), None)
        end = span.end - 1 if span else unit.at
    elif unit.said:
        end = min(last, unit.at + len(unit.said) - (1 if unit.group == "noun" or unit.tag == "CD" else 0))
    else:
        end = unit.at
    return unit.at, max(unit.at, min(end, len(doc) - 1))
