"""What is done to the reel: where the trained reader sees something done, joined to the part that is meant as the bench stands then."""

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from math import exp, log

import numpy as np

from ..record import Step
from ..trade import data
from ..trade.wording import imperative
from .bench import PATIENT, Meant
from .clauses import Unit, head, singular, singular_name
from .evidence import confidence, odds, referring
from .exchange import Exchanges
from .findings import Mention
from .frames import is_part, is_tray, supply_kind
from .reader import ACTIONS, PHASES, Reading
from .ruled import Draft, Walk, is_state, is_warning, turns
from .signs import KINDS, Signs, folded
from .slots import Slot, Told
from .talk import Talk

LEAST = 0.4              # a step is told from this chance on that it is right
SECOND = 0.6             # a second action at one slot, from this
MOST = 16                # of one kind on a reel (common practice, no published source): more is a model's number taken for a count
FEW = 3                  # as many as were only spoken of are taken up to this; more are seldom all moved at once
SURER = 0.1              # told again surer by this much, a step is done there
WORKED_ON = 0.7           # a step as sure as this makes a part of a noun that the trade's list lacks
NAMED = 0.9              # a bare word gets the full name of its piece where the reader is as sure of it as this
SOONER = {"gear": 0.6}   # or as this: "the gear" says less than other bare words, and is seldom told of any but one
WITH = 0.3                # a tool or a supply is named from this share of the chance of none on
FAINT, DENIED = 0.04, 0.06  # an action less likely than this is not looked into; where the rules see that it is not done now, than that
# Two actions of one slot in the order of the work (common practice, no published source): loosened before it comes off, greased before it goes in, tightened last.
_IN_ORDER = ("mark", "loosen", "remove", "set aside", "inspect", "measure", "clean", "degrease", "dry", "repair", "replace", "lubricate", "align", "install", "tighten", "adjust", "test")
_BEFORE = {"loosen": "remove", "install": "tighten"}   # whichever of the two is told first
_AT_ONCE = 8.0           # seconds: told this near they are one move
_WAYS = {"remove": -1, "install": 1}
_KIND, _PHASE = {k: n for n, k in enumerate(KINDS)}, {p: n for n, p in enumerate(PHASES)}
TURNS = {"remove", "install", "loosen", "tighten"}
_UNFIT = {"degrease": {"lubricant"}, "lubricate": {"solvent", "cleaner", "wiper"}, "dry": {"solvent", "cleaner", "lubricant"}}  # "flush it with alcohol, then let it dry": not dried with that
_WASH = {"solvent", "cleaner", "wiper"}
_PLACED = {"in", "inside", "on", "attached", "hanging"}
_NEVER = {"don't", "dont", "n't", "not", "never"}
_OF_THEM = {"them", "those", "'em", "em", "these"}
_THE = {"the", "this", "that", "these", "those", "its", "same"}
_OTHER = {"other", "another", "second"}
_ENDS = {"first", "last", "final", "other", "second", "thin", "thick"}   # one of several
_ANY_END = "|".join(sorted(_ENDS))
# One at each of several places; where nobody counts them, two (both ends, both sides; a yoke has two posts: common practice, no published source).
_EACH_PLACE = re.compile(r",?\s+(?:one\s+)?(?:(?:on|at|in|to|for)\s+)?(?:(?:each|either|per)\s+(?P<where>side|end|post|stud|peg|pillar)\b|(?:each|apiece)(?=\s*(?:[,.;!]|(?:and|then)\b|$)))", re.I)
_OPEN = {"", "driver", "screwdriver", "tool", "spanner", "wrench", "brush", "mic", "mike"}
_SPANNERS = {"wrench", "spanner"}
_SIZE = re.compile(r"(?:#\d+|\d[\d./]*(?: mm)?) ")
_WRENCH = re.compile(r"(?:(?:ring|box|box end|open end|open ended|combination) )?(?:wrench|spanner)$")
_DRIVERS = {"screwdriver", "driver", "turnscrew", "key", "bit"}
_NEW_STILL = 6            # clauses: so long is what was called new the new one ("got a new one here … in it goes")


def find_steps(seen: Signs, slots: list[Slot], reading: Reading, tide) -> list[Step]:
    """The steps in their order, each with what is meant by it."""
    drafts = Judged(seen, tide, slots, reading).drafts()
    Exchanges(seen.talk).mark(drafts)
    return [_step(f"st{n}", d, seen.talk) for n, d in enumerate(drafts, 1)]


def unlisted(mentions: list[Mention], steps: list[Step]) -> list[Mention]:
    """Mentions of what is surely worked on though the trade's list lacks it ("the planets"): a part of the reel like any other."""
    known = {folded(n) for m in mentions for n in (m.name, *m.names)}
    heads = {n.split()[-1] for n in known if n}
    return [Mention(group="part", name=s.part, names=[s.part], surface=s.part, sentence=s.sentences[0], start=s.start, end=s.end, qty=s.qty, confidence=s.confidence)
            for s in steps if s.confidence >= WORKED_ON and folded(s.part) not in known and folded(s.part).split()[-1:] and folded(s.part).split()[-1] not in heads]


@dataclass(frozen=True, slots=True)
class Offer:
    """A step as it may be: an action at a slot, done to one part or several."""

    slot: int
    do: str
    meants: list[Meant]
    said: str | None             # the host's own bare word, where which piece it is stays open
    sure: float
    evidence: dict[str, float]
    moment: tuple[float, float]  # start and end, seconds


def _stays(unit: Unit | None, units: tuple[Unit, ...]) -> bool:
    """Is it still where it was: "the plate comes away with the main gear still in it"?"""
    if unit is None or unit not in units:
        return False
    after = [u.text for u in units[units.index(unit) + 1 :][:2]]
    return len(after) == 2 and after[0] == "still" and after[1] in _PLACED


class Judged(Walk):
    """The walk through the talk, led by the reader's chances instead of frames."""

    def __init__(self, seen: Signs, tide, slots: list[Slot], reading: Reading) -> None:
        super().__init__(seen.talk, seen.told, tide)
        self.seen, self.slots = seen, slots
        self.reading = self._washed(reading)
        self.names: dict[int, tuple[str, str | None]] = {}   # slot: the part that it proved to mean, and the bare word for it
        self.pieces: dict[int, tuple[str, str, float] | None] = {}  # slot of a bare word: what it is short for (_piece)
        self.log: list[Offer] | None = None      # every offer and every question what is meant, for fitting the weights
        self.asked: list[tuple] = []
        self.told_in: dict[int, list[Told]] = {}
        for told in seen.told:
            self.told_in.setdefault(told.sentence, []).append(told)
        self.wrench = "spanner" if any(t.lower_ == "spanner" for doc in seen.talk.docs for t in doc) else "wrench"
        self.new: dict[str, int] = {}            # part: the clause that last called it new
        self.spread: dict[int, np.ndarray] = {}  # sentence: chances that something is done anywhere in it to what a pronoun means or a clause leaves out
        for j, slot in enumerate(slots):
            if slot.kind in {"pro", "none"}:
                n = seen.told[slot.told].sentence
                self.spread[n] = self.spread.get(n, 1.0) * (1 - reading.actions[j])

    def drafts(self) -> list[Draft]:
        """As told, but one move of one piece in the order of the work: "twelve millimetre socket on the nut, and you go clockwise" loosens what comes off."""
        done = super().drafts()
        for later in [d for d in done if d.do in _BEFORE]:
            n = done.index(later)
            first = next((k for k, d in enumerate(done[:n]) if d.do == _BEFORE[later.do] and d.part == later.part and later.start - d.start <= _AT_ONCE), None)
            if first is not None:
                later.start, later.end = done[first].start, done[first].end
                done.insert(first, done.pop(n))
        counts = {self.bench.label(name): count for name, count in self.bench.counts.items() if count <= FEW}
        counts |= {d.part: d.qty for d in sorted((d for d in done if d.qty and d.qty > 1), key=lambda d: d.qty)}
        for draft in done:  # "the carbons get alcohol": as many as there are, counted before or later
            if draft.plural and not draft.qty:
                draft.qty = counts.get(draft.part) or self._usual(draft.part)
        return done

    def _usual(self, part: str) -> int | None:
        """How many "the spool bearings" are where nobody counts them."""
        term = self.bench.known.get(part.lower())
        return 2 if term is not None and term.name in data("parts")["pairs"] else None

    def _washed(self, reading: Reading) -> Reading:
        """What a part is washed with says how: with a solvent it is degreased, with anything else cleaned (the annotation's rule)."""
        actions = reading.actions.copy()
        ways = [ACTIONS.index("clean"), ACTIONS.index("degrease")]
        for j, offered in reading.supply.items():
            if actions[j, ways].sum() >= FAINT and (supply := self._chosen(offered, lambda aid: True)) and (kind := supply_kind(supply.name)) in _WASH:
                wash = actions[j, ways].sum()
                actions[j, ways] = (0, wash) if kind == "solvent" else (wash, 0)
        return replace(reading, actions=actions)

    def _clause(self, told: Told, ahead: Told | None) -> None:
        units = told.clause.units
        self._count_corrected(told)
        for unit in units:
            if unit.group == "part" and (len(unit.text.split()) > 1 or head(unit.text) not in self.bench.heads):
                self.bench.said[unit.name] = singular_name(unit.text)
                self.bench.heard_as(unit.text, unit.name)
        holds = self._holds(units)
        acted = []
        for j in told.slots:
            offers = [o for do, chance in self._likely(j, told) if (o := self._offer(j, do, chance, told, holds, len(acted)))]
            if self.log is not None:
                self.log += offers
            told_here = sorted((o for o in offers if o.sure >= LEAST), key=lambda o: -o.sure)
            for offer in told_here:
                if offer is told_here[0] or offer.sure >= SECOND and offer.meants[0].name == told_here[0].meants[0].name:  # "screw it in and snug": two actions of one slot
                    acted.append(self.slots[j].unit)
                    self._do(offer, told)
        for unit in units:
            if is_part(unit) and unit not in acted:
                self._mention(unit, told, holds)
            if is_part(unit) and _said_new(unit):
                self.new[unit.name] = self.bench.clause
        self._lean_on_last(told)

    def _likely(self, j: int, told: Told) -> list[tuple[str, float]]:
        """The two likeliest actions at a slot with their chances; none where the host says not to, warns, asks, tells how a thing is, or only goes on."""
        words = {u.text for u in told.clause.units[:4]}
        if " ".join(u.text for u in told.clause.units) in data("actions")["undoing"]["going_on"]:
            return []
        if is_warning(self.talk.docs[told.sentence]) or is_state(told.clause):
            return []
        if not told.doubt and (words & _NEVER and "forget" not in words or self.talk.docs[told.sentence].text.rstrip().endswith("?")):
            return []
        chances, stays = self.reading.actions[j], _stays(self.slots[j].unit, told.clause.units)
        best = sorted(range(1, len(ACTIONS)), key=lambda k: -chances[k])[:2]
        asked = [ACTIONS.index(f.do) for f in told.frames if f.do in ACTIONS and self.slots[j].unit in f.to[:1]]
        least = FAINT if told.doubt else DENIED
        return [(ACTIONS[k], float(chances[k])) for k in dict.fromkeys(best + asked)
                if (chances[k] >= least or told.doubt and k in asked) and not (stays and ACTIONS[k] == "remove")]

    def _offer(self, j: int, do: str, chance: float, told: Told, holds: str | None, already: int) -> Offer | None:
        """One action at one slot with the parts that it would be done to, and how likely that is right."""
        unit, units, way = self.slots[j].unit, told.clause.units, _WAYS.get(do, 0)
        ground = ()
        if unit is not None and unit in units:
            i = units.index(unit)
            ground = tuple(u for n, u in enumerate(units) if n > i and u.kind == "thing" and units[n - 1].kind == "word" and units[n - 1].tag in {"IN", "RP", "TO"})
        said = None
        if unit is not None and not self.slots[j].points:
            meants = self.bench.meant(unit, do, way, ground, holds) or [Meant(unit.name, unit.qty, 0.6, bool(unit.plural))]
            if unit.is_bare:
                meants, said = self._named(j, meants)
        else:
            meants, said = self._referents(j, unit or Unit("pro", "it", "it", told.clause.at), do, way, ground, holds)
        if not meants:
            return None
        evidence = self._evidence(j, do, chance, meants, told, said, already)
        return Offer(j, do, meants, said, confidence(evidence), evidence, self._moment(told))

    def _piece(self, j: int) -> tuple[str, str, float] | None:
        """The piece that a bare word is short for, its name in the host's words and how sure the reader is; None where it is not sure enough."""
        if j not in self.pieces:
            kind, chances, called = head(self.slots[j].unit.text), Counter(), {}
            for m, chance in sorted(self.reading.of.get(j, ()), key=lambda o: -o[1]):
                other = self.slots[m].unit
                if kind not in {head(other.text), head(other.name)}:
                    name, wording = self.bench.piece_of(other, kind)
                elif not other.is_bare:
                    name, wording = other.name, singular_name(other.text)
                else:
                    continue  # as open as the word itself
                chances[name] += chance
                called.setdefault(name, wording)
            best = max(chances, key=chances.get, default=None)
            self.pieces[j] = None if best is None or chances[best] < SOONER.get(kind, NAMED) else (best, called[best], chances[best])
        return self.pieces[j]

    def _named(self, j: int, own: list[Meant]) -> tuple[list[Meant], str | None]:
        """The piece that a bare word is short for; else what the rules take it for, with the bare word itself, since which piece it is stays open."""
        unit, piece = self.slots[j].unit, self._piece(j)
        return ([Meant(piece[0], unit.qty, piece[2], bool(unit.plural))], None) if piece else (own, self._bare(unit))

    def _mentioned(self, unit: Unit, told: Told, holds: str | None) -> list[Meant]:
        own = super()._mentioned(unit, told, holds)
        j = next((j for j in told.slots if self.slots[j].unit is unit), None)
        if j is None or not unit.is_bare:
            return own
        meants, said = self._named(j, own or [Meant(unit.name)])
        self.names.setdefault(j, (meants[0].name, said))
        if piece := self._piece(j):
            self.bench.heard_as(piece[1], piece[0])
        return meants

    def _bare(self, unit: Unit) -> str:
        """The host's own word where which piece it is stays open."""
        if unit.group == "noun" and unit.tag.startswith("NN") and len(unit.said) < 2:
            return singular_name(unit.text)
        return singular_name(unit.text).split()[-1]

    def _evidence(self, j: int, do: str, chance: float, meants: list[Meant], told: Told, said: str | None, already: int) -> dict[str, float]:
        """What speaks for and against this step, as numbers."""
        bench, reading, slot, n = self.bench, self.reading, self.slots[j], told.sentence
        chances, name, way, start = reading.actions[j], meants[0].name, _WAYS.get(do, 0), self._moment(told)[0]
        seat = bench.seats.get(name)
        again = [start - d.start for d in self.done[-40:] if d.do == do and d.part == name]
        other = [start - d.start for d in self.done[-40:] if d.do != do and d.part == name]
        frames = [f for f in told.frames if slot.unit in f.to]
        named = {folded(name), folded(said or name)}
        agreed = {s.do for s in self.seen.steps_in.get(self.talk.sentences[n].id, ()) if folded(s.part) in named}  # by the rules alone
        k, pointing = ACTIONS.index(do), slot.kind in {"pro", "none"}
        elsewhere = slot.kind == "noun" and self._own(j, do, way)[0] != name
        alike = [i for t in self.told_in[n] for i in t.slots if self.slots[i].kind in {"pro", "none"}] if pointing else []
        row = {
            "sentence": odds(1 - float(self.spread[n][k])) if pointing else 0.0, "best of sentence": pointing and all(reading.actions[i][k] <= chance for i in alike),
            "chance": odds(chance), "some": odds(1 - float(chances[0])), "second": float(sorted(chances[1:])[-2]),
            "thing": slot.kind == "thing", "noun": slot.kind == "noun", "pronoun": slot.kind == "pro", "none": slot.kind == "none",
            "likely": chance > 0.5, "meant": meants[0].confidence, "several": len(meants) > 1, "bare": said is not None,
            "denied": not told.doubt, "agreed": do in agreed, "agreed other": bool(agreed) and do not in agreed,
            "ordered": any(f.do == do and f.by == "you" and f.kind in {"verb", "phrase"} for f in frames),
            "framed": any(f.do == do or f.do is None and f.way == way for f in frames), "framed other": any(f.do and f.do != do for f in frames),
            "fits": odds(min(0.95, bench.fits(name, do, way) / 1.4)) if do in TURNS else 0.0,
            "off already": way < 0 and seat is not None and seat.is_off, "on already": way > 0 and seat is not None and seat.is_back,
            "waits": way > 0 and seat is not None and seat.is_off, "new": way > 0 and (seat is None or not seat.is_off and not seat.is_back),
            "tide": way * self.tide(n), "again soon": any(t < 25 for t in again), "again": bool(again), "touched": any(t < 60 for t in other),
            "already": min(already, 3), "caution": float(reading.kinds[n][_KIND["caution"]]), "unsure": float(reading.kinds[n][_KIND["unsure"]]),
            "condition": float(reading.kinds[n][_KIND["condition"]]), "aside": float(reading.phases[n][_PHASE["aside"]]),
            "talk": float(reading.phases[n][[_PHASE[p] for p in ("introduction", "identification", "closing")]].sum()),
            "long": min(len(self.talk.docs[n]), 50) / 25, "known": name.lower() in bench.known,
            "elsewhere": elsewhere, "runner up": chance < max(chances[1:]),
        }
        row |= {f"do {do}": 1.0, "moves and pronoun": bool(way) and pointing}
        return {k: float(v) for k, v in row.items()}

    def _do(self, offer: Offer, told: Told) -> None:
        """One slot where something is done."""
        j, do, unit = offer.slot, offer.do, self.slots[offer.slot].unit
        for meant in offer.meants:
            if offer.said and unit is not None and unit.kind == "thing" and offer.said == self._bare(unit):
                self.bench.heard_as(unit.text, meant.name)
            elif piece := self.pieces.get(j):
                self.bench.heard_as(piece[1], meant.name)
            counted = meant.qty or (self._counted_next(unit, told) if meant is offer.meants[-1] else None)
            if (counted or 1) == 1:
                counted = self._one_each(unit, told) or counted
            if not counted and (listed := self._listed(unit, told)):
                counted = max(listed, self.bench.counts.get(meant.name, 0))
            self.bench.note(meant.name, counted, meant.plural, PATIENT)
            qty = counted or (self._count_of(meant, unit) if do in TURNS or meant.plural or _is_each(unit) else None)
            qty = None if qty and qty > MOST else qty
            draft = Draft(do, meant.name, qty, self._tool_at(j, do, meant.name), self._supply_at(j, do), *offer.moment,
                          confidence=round(offer.sure, 2), sentences=[told.sentence], plural=meant.plural or bool(qty and qty > 1), tide=self.tide(told.sentence))
            draft.said, draft.in_full = offer.said, offer.said is None and self.slots[j].kind == "thing"
            draft.new = do == "install" and self._is_new(j, meant.name)
            draft.exchanged = float(self.reading.exchanged[j])
            if unit is not None and not _OTHER.isdisjoint(unit.said) and (old := self._told_before(draft)) and (old.qty or 1) == 1 and told.sentence in old.sentences:
                draft.qty = 2  # "spring, other spring"
            self._keep(draft)
        self.names[j] = offer.meants[0].name, offer.said

    def _tell_again(self, old: Draft, draft: Draft) -> None:
        """What was said ahead, or in passing, is done where it is told for sure."""
        surer = draft.confidence > old.confidence + SURER
        if draft.qty == 1 and old.qty and not draft.in_full:
            draft.qty = None  # "carbon, steel, carbon, and the last one": one of them is not all of them
        super()._tell_again(old, draft)
        old.exchanged = max(old.exchanged, draft.exchanged)
        if surer:
            old.start = draft.start
            self.done.remove(old)
            self.done.append(old)

    def _is_new(self, j: int, part: str) -> bool:
        """Is what is fitted there called new, now or just before?"""
        unit = self.slots[j].unit
        if unit is not None and _said_new(unit):
            return unit.kind != "thing" or folded(head(unit.text)).endswith(folded(head(part)))
        return self.slots[j].points and self.bench.clause - self.new.get(part, -_NEW_STILL - 1) <= _NEW_STILL

    def _referents(self, j: int, unit: Unit, do: str, way: int, ground: tuple[Unit, ...], holds: str | None) -> tuple[list[Meant], str | None]:
        """What a pronoun, or what is left out, stands for, and the bare word for it: the likeliest of what is spoken of or lies in the tray."""
        if (stuff := _washer_of(unit)) and unit.text.split()[0] in data("parts")["stack"]:
            return [Meant(stuff, unit.qty, 0.9, bool(unit.plural))], None  # "the eared" is nothing else
        if not unit.qty and (count := self._next_is_count()):
            unit = replace(unit, qty=count)  # "out they all come, six"
        own = self.bench.meant(unit, do, way, ground, holds)
        if len(own) > 1:
            return own, None  # "take the pair together"
        named = self._named_for(j, unit, do, way, ground, own)
        if self.log is not None:
            self.asked.append((j, do, [(said or self.bench.label(name), signs) for name, (said, _, signs) in named.items()]))
        if not named:
            return [], None
        scores = {name: sum(w * signs.get(k, 0.0) for k, w in referring().items()) for name, (_, _, signs) in named.items()}
        name = max(scores, key=scores.get)
        said, plural, _ = named[name]
        return [Meant(name, unit.qty, 1 / sum(exp(min(30.0, s - scores[name])) for s in scores.values()), plural)], said

    def _named_for(self, j: int, unit: Unit, do: str, way: int, ground: tuple[Unit, ...], own: list[Meant]) -> dict[str, tuple[str | None, bool, dict[str, float]]]:
        """Parts that a slot may refer to: each with the bare word for it, whether it is several, and the signs that it is meant."""
        bench, chances, bare, plural = self.bench, Counter(), {}, {}
        itself = self._own(j, do, way, ground) if unit.kind == "thing" else None
        for m, chance in self.reading.meant.get(j, ()):
            other = self.slots[m].unit
            name, said = itself if m == j else self.names.get(m) or ((stuff, None) if (stuff := _washer_of(other)) else (other.name, self._bare(other) if bench.is_generic(other) else None))
            chances[name] += chance
            plural[name] = bool(other.plural)
            bare[name] = said if bare.get(name, said) is not None else None
        seen = {s.name: s for s in bench.recent()}
        last = self.done[-1].part if self.done else None
        waiting = sorted((n for n, seat in bench.seats.items() if seat.is_off), key=lambda n: -bench.seats[n].off) if way > 0 else []
        held = {u.name for u in ground}
        out = {}
        for name in dict.fromkeys([*chances, *seen, *waiting[:8]]):
            at = seen.get(name)
            many = plural.get(name, at.plural if at else bench.counts.get(name, 1) > 1)
            signs = {
                "reader": odds(chances[name]), "offered": name in chances, "own": own[0].confidence if own and own[0].name == name else 0.0,
                "fits": log(max(0.02, bench.fits(name, do, way))), "recent": at.weight * exp(-(bench.clause - at.clause) / 7) if at else 0.0,
                "just now": at is not None and bench.clause - at.clause <= 1, "agrees": unit.plural is not None and unit.plural == many,
                "disagrees": unit.plural is not None and unit.plural != many, "count": bool(unit.qty) and bench.counts.get(name) == unit.qty,
                "bare": bare.get(name) is not None, "last": name == last, "held": name in held, "waits": waiting.index(name) < 2 if name in waiting else False,
                "known": name.lower() in bench.known, "moved": name in bench.seats,
                "itself": itself is not None and name == itself[0], "another": itself is not None and name != itself[0],
            }
            out[name] = bare.get(name), many, {k: float(v) for k, v in signs.items()}
        return out

    def _own(self, j: int, do: str, way: int, ground: tuple[Unit, ...] = ()) -> tuple[str, str | None]:
        """The part that a noun is the name of, and the bare word for it."""
        unit = self.slots[j].unit
        if stuff := _washer_of(unit):
            return stuff, None
        own = self.bench.meant(unit, do, way, ground) or [Meant(unit.name)]
        if not unit.is_bare:
            return own[0].name, self._bare(unit)
        own, said = self._named(j, own)
        return own[0].name, said

    def _next_is_count(self) -> int | None:
        """The number that the next clause is: "six", "six of them"; counted aloud ("one, two"), the last."""
        counts = []
        for told in self.after:
            first, *rest = told.clause.units
            if not first.qty or first.tag != "CD" and first.text != "both" or not all(u.text in _OF_THEM for u in rest):
                break
            counts.append(first.qty)
        aloud = counts == list(range(1, len(counts) + 1))
        return counts[-1] if counts and counts[-1] > 1 and (len(counts) == 1 or aloud) else None

    def _counted_next(self, unit: Unit | None, told: Told) -> int | None:
        """How many, said right after it: "off come the washers, four of them"."""
        if unit is None or unit.kind != "thing" or not unit.plural or any(u.kind == "thing" and u.plural and u.at > unit.at for u in told.clause.units):
            return None
        return self._next_is_count()

    def _one_each(self, unit: Unit | None, told: Told) -> int | None:
        """How many, where each of several places has one: "a bearing on each end", "springs, one per post"."""
        if unit is None or unit.kind != "thing" and unit.text != "one" or (unit.qty or 1) > 1:
            return None
        doc = self.talk.docs[told.sentence]
        place = _EACH_PLACE.match(doc.text, doc[unit.at].idx + len(unit.text))
        if place is None or not (unit.plural or {"a", "an", "one"} & set(unit.said)):
            return None
        if place["where"] is None:  # "two posts, and a spring on each"
            return next((s.qty for s in self.bench.recent(4) if s.qty and s.qty > 1 and s.name != unit.name), None)
        kind = singular(place["where"].lower())
        return next((s.qty for s in self.bench.recent() if s.qty and s.qty > 1 and head(s.name) == kind), 2)

    def _listed(self, unit: Unit | None, told: Told) -> int | None:
        """How many a list in one sentence names one by one: "leather, steel, a leather, steel and a last leather" are three leathers."""
        if unit is None or unit.kind != "thing" or unit.plural or unit.qty or _THE & set(unit.said) and not _ENDS & {*unit.said, *unit.text.split()}:
            return None
        word = re.escape(" ".join(w for w in singular_name(unit.text).removesuffix(" washer").split() if w not in _ENDS))
        count = len(re.findall(rf"(?:^|[,;:]|\b(?:and|then|it's|comes?|goes?|there's))\s*(?:(?:(?:the )?(?:{_ANY_END})|a|an|another|fresh|new|one|more) )*{word}(?: washer| one)?\s*"
                               r"(?:[,;.:!]|$|(?:and|then|first|last|on|at|up|next)\b)", self.talk.docs[told.sentence].text, re.I))
        return count if count > 1 else None

    def _count_of(self, meant: Meant, unit: Unit | None) -> int | None:
        """How many there are: as last counted under this name, or under the bare word for it just now ("three screws hold it … out they come")."""
        if unit is not None and (unit.kind == "thing" or unit.plural is False) and not unit.plural and not _is_each(unit):
            return None  # "the screw", "she" is one
        near = (s.qty for s in self.bench.recent(8) if s.qty and s.qty > 1 and head(s.name) == head(meant.name))
        return self.bench.counts.get(meant.name) or (next(near, None) if meant.plural else None)

    # -- with what

    def _chosen(self, offered: list[tuple[int, float]], suits: Callable[[Slot], bool]) -> Unit | None:
        """Of what suits, what the reader holds likeliest, if likelier than nothing."""
        fit = [(self.seen.aids[m].unit, chance) for m, chance in offered if suits(self.seen.aids[m])]
        best = max(fit, key=lambda f: f[1], default=None)
        return best[0] if best and best[1] > WITH * (1 - sum(chance for _, chance in offered)) else None

    def _tool_at(self, j: int, do: str, part: str) -> str | None:
        tool = self._chosen(self.reading.tool.get(j, []), lambda aid: do not in TURNS or turns(aid.unit.name, part) and not is_tray(aid.unit))
        if tool is not None:
            tool = replace(tool, name=_tool_as_said(tool, self.wrench))
            if do in TURNS:  # a pencil that marks a screw does not turn it
                self._remember(part, tool)
            return tool.name
        return self.used_on.get(part) if do in TURNS else None

    def _supply_at(self, j: int, do: str) -> str | None:
        here = self.seen.told[self.slots[j].told].sentence
        supply = self._chosen(self.reading.supply.get(j, []), lambda aid: supply_kind(aid.unit.name) not in _UNFIT.get(do, ()) and not self._denied(aid, here))
        return _as_said(supply) if supply is not None else None

    def _denied(self, supply: Slot, here: int) -> bool:
        """Does the talk say, since it named this supply or just before, that there is none of it: "No grease in here. Grease makes it lazy." puts no grease of any kind on."""
        first = at = self.seen.told[supply.told].sentence
        while at < here and first and self.talk.back(at, first - 1) <= 1:
            first -= 1
        units = (told.clause.units for n in range(first, here + 1) for told in self.told_in.get(n, ()))
        none = {thing.name for row in units for word, thing in zip(row, row[1:]) if word.text in {"no", "without"} and thing.group == "supply"}
        return any(f" {supply.unit.name}".endswith(f" {name}") for name in none)


def _washer_of(unit: Unit) -> str | None:
    """What is told by its stuff alone: "then a carbon, a steel one" are washers (common practice, no published source)."""
    stuff, *rest = singular_name(unit.text).split() or [""]
    return f"{stuff} washer" if unit.group == "noun" and stuff in {*data("parts")["materials"], *data("parts")["stack"], "metal"} and rest in ([], ["one"]) else None


def _is_each(unit: Unit | None) -> bool:
    """"Each pawl", "every one of the screws": as many as there are."""
    return unit is not None and not {"each", "every"}.isdisjoint(unit.said)


def _said_new(unit: Unit) -> bool:
    """"The new one", "two fresh felts", "a replacement spring"; not "no new bearing"."""
    rules = data("service")["buying"]
    return bool({*unit.said, *unit.text.split()[:-1]} & set(rules["new"])) and not set(rules["not_new"]) & set(unit.said)


def _as_said(unit: Unit) -> str:
    """The host's own word for a supply, without what it only looks like: a "damp rag" is a rag."""
    said = singular_name(unit.text)
    return unit.name if said.endswith(" " + unit.name) or unit.name.startswith(said + " ") else said


def _tool_as_said(tool: Unit, wrench: str) -> str:
    """The host's own word for a tool: "lolly stick", "flat blade screwdriver", "10 mm spanner"; a size is written as the trade writes it, `wrench` is what the host calls one."""
    text = re.sub(r"['’](?:ll|s|d|ve|re)\b", "", tool.text).replace("flat head", "flathead")
    said, kind = text if tool.name.endswith("s") or text.endswith("lens") else singular_name(text), tool.name.split()[-1]
    sized = _SIZE.match(tool.name)
    if sized and kind in _SPANNERS:
        return sized[0] + (own[0] if (own := _WRENCH.search(said)) else wrench if tool.name == f"{sized[0]}wrench" else tool.name[sized.end():])
    if said in _OPEN or said == tool.name.replace(" ", "") or " of " in said or said.endswith(f" {tool.name}") or tool.name.startswith(f"{said} ") or not {"phillips", "screw"}.isdisjoint(tool.text.split()):
        return tool.name  # "the driver" is the one in hand, "an old toothbrush" a toothbrush, "hairdryer" only how a hearing writes it, a "mic" on a washer is a micrometer
    *before, last = said.split()
    if sized:
        return tool.name
    if kind == "screwdriver" and last not in _DRIVERS - {"driver"}:
        return " ".join([*before, *([last] if last != "driver" else []), kind])
    return said


def _step(id: str, draft: Draft, talk: Talk) -> Step:
    return Step(id=id, start=draft.start, end=max(draft.end, draft.start), do=draft.do, part=draft.part, qty=draft.qty, tool=draft.tool, supply=draft.supply,
                text=imperative(draft.do, draft.part, draft.qty, draft.tool, draft.supply, draft.plural, draft.new), phase=draft.phase,
                sentences=[talk.sentences[n].id for n in draft.sentences], confidence=_calibrated(draft.confidence), new=draft.new, undone=draft.undone)


def _calibrated(sure: float) -> float:
    """The share of steps as sure as this that were right, in episodes that the reader was not taught (benchmarks/teach/crossed.md)."""
    return round(float(np.interp(sure, [0.4, 0.5, 0.6, 0.7, 0.8, 0.87, 0.92, 0.96, 1.0], [0.35, 0.5, 0.58, 0.69, 0.81, 0.84, 0.87, 0.9, 0.92])), 2)
