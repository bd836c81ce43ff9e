"""What the rules see at a slot and in a sentence, as rows of numbers for the trained reader (reader.py).

The order of the numbers is part of the reader's weights: change it, and the reader must be taught anew (benchmarks/teach).
"""

import re
from collections import Counter
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

from ..record import Fact, Step
from .slots import Slot, Told, aids_of, trade_heads
from .talk import Talk
from .terms import singular

ACTIONS = ("remove", "install", "loosen", "tighten", "clean", "degrease", "dry", "lubricate", "inspect", "measure", "adjust", "align", "test", "mark",
           "repair", "replace", "set aside")
KINDS = ("obsolete", "interchange", "upgrade", "dating", "orientation", "fastener", "setting", "caution", "condition", "unsure", "part_number", "measure")
_LINKS = ("", ",", "and", "then", ".", "so", "but", "if", "when", "until", "or", "now", "because", "till", "before", "after", "which", "?")
_ROLES = ("to", "ground", "beside", "none")
_TOLD = (*ACTIONS, "on", "off", "way0")
_WAYS = ("verb", "phrase", "inverted", "bare", "spread", "tool", "named")
_ASIDE = {"past", "elsewhere"}


@dataclass
class Signs:
    """The rules' view of a talk: steps and facts that they read alone, and the way the job runs at each sentence (-1 strip to +1 rebuild)."""

    talk: Talk
    told: list[Told]
    steps: list[Step]
    facts: list[Fact]
    tides: list[float]
    steps_in: dict[str, list[Step]] = field(default_factory=dict)
    facts_in: dict[str, dict[str, float]] = field(default_factory=dict)
    moves: dict[str, list[tuple[int, str]]] = field(default_factory=dict)     # part: sentence and what the rules take to be done to it
    spoken: dict[str, list[int]] = field(default_factory=dict)                # part: sentences that name it
    heads: set[str] = field(default_factory=set)                              # last words of the parts that the talk names with more than one
    words: Counter[str] = field(default_factory=Counter)
    aids: list[Slot] = field(init=False)                                      # the tools and supplies, what a step may be done with

    def __post_init__(self) -> None:
        self.aids = aids_of(self.told, self.talk.docs)
        at = {s.id: n for n, s in enumerate(self.talk.sentences)}
        for step in self.steps:
            for sentence in step.sentences:
                self.steps_in.setdefault(sentence, []).append(step)
            self.moves.setdefault(folded(step.part), []).append((at[step.sentences[0]], step.do))
        for n, doc in enumerate(self.talk.docs):
            for span in doc.spans["terms"]:
                if span.label_ == "part":
                    self.spoken.setdefault(folded(span.kb_id_), []).append(n)
            self.words.update(singular(t.lower_) for t in doc)
        self.heads = {name.split()[-1] for name in self.spoken if " " in name}
        for fact in self.facts:
            self.facts_in.setdefault(fact.sentences[0], {})[fact.kind] = fact.confidence

    @cached_property
    def known(self) -> set[str]:
        """Every name of a part that the trade knows, folded."""
        return {folded(n) for t in self.talk.trade.group("part") for n in t.names}

    def slot(self, slot: Slot) -> list[float]:
        told, unit = self.told[slot.told], slot.unit
        names = self.names(slot)
        row = [float(slot.kind == k) for k in ("thing", "noun", "pro", "none")]
        row += [float(told.clause.link == k) for k in _LINKS] + [float(told.clause.link not in _LINKS)]
        many, qty = getattr(unit, "plural", None), getattr(unit, "qty", None)
        row += [float(many is True), float(many is False), float(bool(qty)), float((qty or 0) > 1), told.doubt]
        roles = set()
        for frame in told.frames:
            role = "none" if unit is None else "to" if unit in frame.to else "ground" if unit in frame.ground else "beside"
            roles.add((role, frame.do or {1: "on", -1: "off"}.get(frame.way, "way0")))
        row += [float((role, told_as) in roles) for role in _ROLES for told_as in _TOLD]
        ways = {f.kind for f in told.frames}
        row += [float(w in ways) for w in _WAYS] + [float(not told.frames)]
        read: dict[str, float] = {}
        for step in self.steps_in.get(self.talk.sentences[told.sentence].id, ()):
            if unit is None or unit.kind == "pro" or folded(step.part) in names:
                read[step.do] = max(read.get(step.do, 0.0), step.confidence)
        return row + [read.get(do, 0.0) for do in ACTIONS] + [self.tides[told.sentence]] + self._history(names, told.sentence) + self._kin(slot)

    def _history(self, names: set[str], at: int) -> list[float]:
        """Where the named part is by the rules, and how new it is to the talk: off, back on, moved just now, never named before, named just before."""
        if not names:
            return [0.0] * 6
        off, on = self.state(names, at)
        back = self.talk.back
        moved = any(n < at and back(at, n) <= 3 and do in {"remove", "install"} for name in names for n, do in self.moves.get(name, ()))
        done = any(n < at and back(at, n) <= 8 and do not in {"remove", "install"} for name in names for n, do in self.moves.get(name, ()))
        last = max((n for name in names for n in self.spoken.get(name, ()) if n < at), default=None)
        return [float(off), float(on), float(moved), float(done), float(last is None), float(last is not None and back(at, last) <= 3)]

    def _kin(self, slot: Slot) -> list[float]:
        """Whether a noun ends as a part of the trade does, or as one that this talk names in full, and how often the talk says it."""
        if slot.unit is None or slot.unit.kind != "thing":
            return [0.0] * 3
        last = slot.unit.text.split()[-1]
        return [float(singular(last) in trade_heads()), float(folded(last) in self.heads), min(self.words[singular(last)], 8) / 8]

    def state(self, names: set[str], at: int) -> tuple[bool, bool]:
        """Whether the rules have a part of these names off the reel, or back on it, before a sentence."""
        last = max(((n, do) for name in names for n, do in self.moves.get(name, ()) if n < at and do in {"remove", "install"}), default=None)
        return last is not None and last[1] == "remove", last is not None and last[1] == "install"

    def names(self, slot: Slot) -> set[str]:
        """Every name that is right for what a slot says, folded."""
        unit = slot.unit
        if unit is None or unit.kind != "thing":
            return set()
        doc = self.talk.docs[self.told[slot.told].sentence]
        return {folded(n) for n in (unit.name, unit.text)} | {folded(n) for s in doc.spans["terms"] if s.start <= unit.at < s.end for n in (s.kb_id_, *s._.names)}

    def sentence(self, i: int) -> list[float]:
        sentences, doc = self.talk.sentences, self.talk.docs[i]
        this, last = sentences[i], len(sentences) - 1
        before = this.start - sentences[i - 1].end if i else 0.0
        after = sentences[i + 1].start - this.end if i < last else 0.0
        row = [min(max(before, 0), 8) / 4, min(max(after, 0), 8) / 4, this.start / (sentences[-1].end or 1), float(i == 0), float(i < 3), float(i > last - 3),
               min(len(doc.text.split()), 40) / 20, self.tides[i], sum(bool(t._.context & _ASIDE) for t in doc) / max(1, len(doc))]
        facts = self.facts_in.get(this.id, {})
        row += [facts.get(k, 0.0) for k in KINDS]
        return row + [min(4, sum(s.label_ == g for s in doc.spans["terms"])) / 2 for g in ("part", "tool", "supply")]


@lru_cache(1 << 14)
def folded(name: str) -> str:
    """A name without case, punctuation, articles and plurals."""
    words = re.sub(r"[^a-z0-9#/. ]+", " ", name.lower()).split()
    return " ".join(singular(w) for w in words if w not in ("the", "a", "an"))
