"""The bench as the talk goes: which parts are on the reel and which are off, what was spoken of last, which way the job runs.

This is what tells "it", "those" and "the screw" apart: a part already off is not taken off again, and a screw that
lies in the tray is the one that goes back.
"""

from collections import Counter
from dataclasses import dataclass, field
from functools import cache
from math import exp

from ..trade import Term, Trade, data, kinds_called
from .clauses import Unit, head, singular_name

REACH = 20            # clauses: how far back a pronoun looks
FRONT, PATIENT, TOPIC, GROUND = 1.5, 1.0, 0.9, 0.45   # "the spool, that …" | acted on | named | behind a preposition


@dataclass(slots=True)
class Seat:
    """Where one part is: off and on are the clause numbers of its last removal and fitting."""

    off: int | None = None
    on: int | None = None
    qty: int | None = None

    @property
    def is_off(self) -> bool:
        return self.off is not None and (self.on is None or self.off > self.on)

    @property
    def is_back(self) -> bool:
        return self.on is not None and (self.off is None or self.on >= self.off)


@dataclass(frozen=True, slots=True)
class Seen:
    name: str
    plural: bool
    qty: int | None
    clause: int
    weight: float


@dataclass(frozen=True, slots=True)
class Meant:
    """A part that a unit stands for, and how sure that is."""

    name: str
    qty: int | None = None
    confidence: float = 0.9
    plural: bool = False


@dataclass
class Bench:
    trade: Trade
    kind: str | None = None                              # of the reel on the bench
    seats: dict[str, Seat] = field(default_factory=dict)
    seen: list[Seen] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=dict)
    clause: int = 0
    last_counted: str | None = None
    rebuilding: bool = False
    said: dict[str, str] = field(default_factory=dict)   # part: the host's last word for it
    wordings: dict[str, Counter] = field(default_factory=dict)   # part: the host's words for it, with how often

    def __post_init__(self) -> None:
        self.known: dict[str, Term] = {}
        for term in self.trade.group("part"):
            for name in term.names:
                self.known.setdefault(name.lower(), term)
        self.heads = {singular_name(h) for h in data("parts").get("heads", ())} | _parts_rules()["generic"]

    # -- what was spoken of

    def note(self, name: str, qty: int | None, plural: bool, weight: float) -> None:
        if qty and qty > 1:
            self.counts[name] = qty
        if qty:
            self.last_counted = name
        self.seen.append(Seen(name, plural or bool(qty and qty > 1), qty, self.clause, weight))

    def correct_count(self, qty: int) -> str | None:
        """"five, no, six": the last count told was wrong. Returns the part it counted."""
        if self.last_counted:
            self.counts[self.last_counted] = qty
        return self.last_counted

    def recent(self, reach: int = REACH) -> list[Seen]:
        """Newest first, each name once."""
        out, names = [], set()
        for seen in reversed(self.seen):
            if self.clause - seen.clause > reach:
                break
            if seen.name not in names:
                names.add(seen.name)
                out.append(seen)
        return out

    # -- what is on and off

    def seat(self, name: str) -> Seat:
        return self.seats.setdefault(name, Seat())

    def moved(self, name: str, way: int, qty: int | None) -> None:
        seat = self.seat(name)
        if way < 0:
            seat.off, seat.qty = self.clause, qty or seat.qty
        else:
            seat.on = self.clause

    def fits(self, name: str, do: str | None, way: int) -> float:
        """How well an action suits a part, from where the part is and what it is."""
        rules, seat = _parts_rules(), self.seats.get(name, Seat())
        suits = 0.2 if head(name) in rules["never"] or name in rules["never"] else 1.0
        if way < 0:
            told_again = seat.is_off and self.clause - seat.off <= 5
            return suits * (0.6 if told_again else 0.08 if seat.is_off else 0.5 if seat.is_back else 1.0)
        if way > 0:
            return suits * (1.3 if seat.is_off else 0.2 if seat.is_back else 0.6)
        if do in {"tighten", "loosen"}:
            return suits * (1.0 if head(name) in rules["fastener"] else 0.3)
        if do in {"lubricate", "mark", "align"}:
            return suits * (0.6 if head(name) in {"screw", "bolt"} else 1.0)
        return suits

    # -- which part is meant

    def meant(self, unit: Unit, do: str | None, way: int, ground: tuple[Unit, ...] = (), holds: str | None = None) -> list[Meant]:
        """The parts that a unit stands for: one, or none where that would be a guess."""
        if unit.kind == "thing":
            if unit.group != "part" and not (unit.group == "noun" and head(unit.text) in self.heads):
                return []
            name, sure = self._specific(unit, do, way, ground, holds)
            return [Meant(name, unit.qty, sure, bool(unit.plural))]
        held = [g for g in ground if g.group == "part"]
        if unit.qty and unit.tag == "CD" and held:  # "back out the three in the bridge"
            joined = self.joined(held[0].name, "screw")
            if joined and joined.lower() in self.known and joined in self.counts:
                return [Meant(joined, unit.qty, 0.6, True)]
        if unit.qty == 2 and unit.text in {"pair", "both", "two"}:  # "take the pair together"
            single = [s for s in self.recent(2) if not s.plural and self.fits(s.name, do, way) >= 0.4]
            if len(single) >= 2:
                return [Meant(s.name, None, 0.65) for s in single[:2]]
        best = self._by_pronoun(unit, do, way, {g.name for g in held} | {s.name for s in self.recent(6) for g in held if head(s.name) == head(g.text)})
        return [best] if best else []

    def _by_pronoun(self, unit: Unit, do: str | None, way: int, besides: set[str]) -> Meant | None:
        scored = []
        for seen in self.recent():
            if seen.name in besides:
                continue
            age = self.clause - seen.clause
            score = seen.weight * exp(-age / 7)
            if unit.plural is True and not seen.plural:
                score *= 0.15
            elif unit.plural is False and seen.plural:
                score *= 0.35
            if unit.qty:
                score *= 2.0 if self.counts.get(seen.name) == unit.qty else 0.7
            scored.append((score * self.fits(seen.name, do, way), seen, score))
        scored.sort(key=lambda s: -s[0])
        if not scored or scored[0][0] < 0.04 or max(s[2] for s in scored) > 3 * scored[0][2]:
            return None  # what is plainly spoken of does not suit the action: better nothing than a far guess
        first, second = scored[0], scored[1][0] if len(scored) > 1 else 0.0
        sure = 0.55 + 0.3 * (first[0] - second) / first[0]
        return Meant(first[1].name, unit.qty, sure, first[1].plural)

    def _specific(self, unit: Unit, do: str | None, way: int, ground: tuple[Unit, ...], holds: str | None) -> tuple[str, float]:
        name = unit.name
        if not self.is_generic(unit):
            return self._narrow(name, do, way), 0.9
        kind = head(unit.text)
        offers: dict[str, float] = {}
        kinds = {kind, *_same_heads().get(kind, ())}

        def offer(candidate: str | None, score: float) -> None:
            if candidate and candidate != kind:
                known = self.counts.get(candidate)
                score *= 1.0 if not unit.qty or unit.qty < 2 or not known else 1.4 if known == unit.qty else 0.6
                offers[candidate] = max(offers.get(candidate, 0.0), score * self.fits(candidate, do, way))

        for place in [g.name for g in ground if g.group == "part"] + ([holds] if holds else []):
            offer(self.joined(place, kind), 2.6)
        if name not in {kind, unit.text}:
            offer(name, 1.2)
        for seen in self.recent(60):
            age = self.clause - seen.clause
            if head(seen.name) in kinds:
                offer(seen.name, 1.9 * exp(-age / 20))
            elif age <= 6 and (joined := self.joined(seen.name, kind)):
                if joined.lower() in self.known:
                    offer(joined, 1.5 * exp(-age / 8))
                elif head(seen.name) not in {"shim", "spring"}:
                    offer(joined, 0.9 * exp(-age / 4))
        if way > 0 or self.rebuilding:
            last = max((seat.off for seat in self.seats.values() if seat.is_off), default=0)
            for candidate, seat in self.seats.items():
                if seat.is_off and head(candidate) in kinds:
                    offer(candidate, 1.1 + 0.3 * seat.off / max(1, last))
        if not offers:
            return name, 0.55
        best = max(offers, key=offers.get)
        if offers[best] < 0.35:
            return name, 0.45
        return best, min(0.85, 0.5 + 0.2 * offers[best])

    def piece_of(self, owner: Unit, kind: str) -> tuple[str, str]:
        """The piece of a kind ("screw") that belongs to a part: its plain name, the trade's if there is one, and its name in the host's words."""
        spoken = singular_name(owner.text).split()
        while len(spoken) > 1 and spoken[0] in _parts_rules()["plain"] | _parts_rules()["places"]:
            spoken.pop(0)
        called = f"{' '.join(spoken)} {kind}"
        term = next((self.known[n] for n in (called, f"{owner.name} {kind}".lower()) if n in self.known), None)
        return term.name if term else called, called

    def heard_as(self, said: str, name: str) -> None:
        """Remember the host's own wording for a part."""
        words = singular_name(said).split()
        while len(words) > 1 and words[0] in _parts_rules()["plain"]:
            words.pop(0)
        wording = " ".join(words)
        if words[-1:] in (["one"], ["ones"]) or kinds_called(wording):
            return  # "it's a lever drag" is the reel, not its lever
        if wording in data("parts")["materials"] and head(name) == "washer":
            wording += " washer"
        self.wordings.setdefault(name, Counter())[wording] += 1

    def label(self, name: str) -> str:
        """What the guide calls a part: the host's word for it. A name of several words says more than a bare one."""
        counted = self.wordings.get(name, Counter())
        full = [w for w in counted if len(w.split()) > 1 or w not in _parts_rules()["generic"]]
        if full:
            return max(full, key=lambda w: (min(len(w.split()), 2), counted[w], w == name))
        if counted and len(name.split()) > 1 and head(name) not in _parts_rules()["told_apart"]:
            return max(counted, key=lambda w: counted[w])
        return name

    def is_generic(self, unit: Unit) -> bool:
        """A bare head ("the screw") that says little alone, in the list of the trade or out of it."""
        return unit.group == "noun" or unit.is_bare

    def _narrow(self, name: str, do: str | None, way: int) -> str:
        """"side plate" going back is the "right side plate" that came off."""
        if way > 0 and not self.seats.get(name, Seat()).is_off:
            off = [n for n, seat in self.seats.items() if seat.is_off and n.endswith(" " + name)]
            if len(off) == 1:
                return off[0]
        return name

    def joined(self, place: str, kind: str) -> str | None:
        """"bridge" and "screw" make "bridge screw": a name of the trade where there is one, else made for fasteners."""
        term = self.known.get(place.lower())
        spoken = self.said.get(place, place)
        for form in [spoken, place, *(term.names if term else ())]:
            whole = f"{form} {kind}".lower()
            if whole in self.known and (not self.known[whole].reels or self.kind is None or self.kind in self.known[whole].reels):
                return self.known[whole].name
        if kind in {"screw", "bolt", "nut"} and head(place) not in {"screw", "bolt", "nut", "washer"}:
            return f"{head(self.said.get(place, place))} {kind}"
        return None


@cache
def _parts_rules() -> dict:
    return {k: set(v) for k, v in data("actions")["parts"].items() if isinstance(v, list)}


@cache
def _same_heads() -> dict:
    return data("actions")["parts"]["same_heads"]
