"""Where in the talk something may be done to a part: one slot for each part or pronoun of a clause, or for what a clause leaves out."""

from dataclasses import dataclass, field
from functools import cache

from spacy.tokens import Doc

from ..trade import data
from .clauses import Clause, Unit, head, is_verb_here, singular, singular_name
from .frames import Frame

_NOUNS = {"NN", "NNS", "NNP", "NNPS"}


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
    def is_part(self) -> bool:
        """May a pronoun mean it: a part, or a noun that ends like one."""
        return self.kind == "thing" or self.kind == "noun" and singular(self.unit.text.split()[-1]) in trade_heads()

    @property
    def is_named(self) -> bool:
        """Is something said there by a name, of the trade or not: what a slot that points may mean, if only itself."""
        return self.kind in {"thing", "noun"}

    @property
    def is_bare(self) -> bool:
        """Is only what sort of piece it is said: "the screw", "a little washer"."""
        return self.unit is not None and self.unit.is_bare

    @property
    def points(self) -> bool:
        """May it mean a part named elsewhere: "it", what is left out, "the little fella", "the teeth"."""
        return self.kind != "thing"

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
        places = [(*_tokens(unit, doc, first, last), unit) for unit in units or [None]]
        places += _nouns(doc, first, last, {i for a, b, u in places if u for i in range(a, b + 1)})
        for a, b, unit in sorted(places, key=lambda p: p[:2]):
            t.slots.append(len(out))
            out.append(Slot(k, unit, (doc[a].idx, doc[b].idx + len(doc[b])), (doc[first].idx, doc[last].idx + len(doc[last]))))
    return out


@cache
def trade_heads() -> frozenset[str]:
    """The last words of all parts of the trade."""
    rows = data("parts")["part"]
    return frozenset(singular(n.split()[-1].lower()) for row in rows for n in (row["name"], *row.get("also", ())))


def _nouns(doc: Doc, first: int, last: int, taken: set[int]) -> list[tuple[int, int, Unit]]:
    """What else may be a part, though the trade's list lacks it or the tagger took it for something else: "the planets", "lever on its peg"."""
    taken |= {i for s in doc.spans.get("terms", ()) for i in range(s.start, s.end)}
    junk, amounts = data("actions")["parts"]["junk"], data("actions")["parts"]["amounts"]
    found = []
    for i in range(first, last + 1):
        token = doc[i]
        word = singular(token.lower_)
        if i in taken or not word.replace("-", "").isalpha() or len(word) < 3 or word in junk or word in amounts:
            continue
        if not (token.tag_ in _NOUNS and token.pos_ in {"NOUN", "PROPN"} or _in_stack(doc, i) or word in trade_heads() and token.tag_ != "VBG" and not is_verb_here(doc, i)):
            continue
        if i < last and i + 1 not in taken and doc[i + 1].tag_ in _NOUNS and singular(doc[i + 1].lower_) not in junk:
            continue  # the first half of "rotor nut"
        start = i
        while start > first and i - start < 3 and start - 1 not in taken and doc[start - 1].tag_ in _NOUNS and doc[start - 1].is_alpha:
            start -= 1
        text = doc[start:i + 1].text.lower()
        found.append((start, i, Unit("thing", text, text, start, token.tag_, "noun", singular_name(text), singular(token.lower_) != token.lower_)))
    return found


def _in_stack(doc: Doc, i: int) -> bool:
    """Is it a washer of a list that is told by its look alone: "carbon, keyed, carbon, the eared, carbon"?"""
    looks = data("parts")["stack"]
    if doc[i].lower_ not in looks:
        return False
    before, after = doc[i - 1] if i else None, doc[i + 1] if i + 1 < len(doc) else None
    opens = before is None or before.is_punct or before.lower_ in {"and", "then", "the", "a", "an", "another", "thin", "thick", "last", "first", "second", "other"}
    closes = after is None or after.is_punct or after.lower_ in {"and", "then", "next", "first", "last", "on", "one"}
    return opens and closes and any(t.i != i and t.lower_ in {*looks, *data("parts")["materials"]} for t in doc)


def aids_of(told: list[Told], docs: list[Doc]) -> list[Slot]:
    """The tools and supplies of a talk in order: what a step may be done with."""
    out = []
    for k, t in enumerate(told):
        doc = docs[t.sentence]
        for unit in t.clause.units:
            if unit.kind == "thing" and unit.group in {"tool", "supply"}:
                span = next((s for s in doc.spans["terms"] if s.start <= unit.at < s.end), None)
                a, b = (span.start, span.end - 1) if span else (unit.at, unit.at)
                out.append(Slot(k, unit, (doc[a].idx, doc[b].idx + len(doc[b])), (0, 0)))
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
