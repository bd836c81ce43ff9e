"""What is done to the reel: where the trained reader sees something done, joined to the part that is meant as the bench stands then."""

from collections import Counter
from dataclasses import replace
from math import exp

from ..record import Step
from ..trade import data
from .bench import PATIENT, Meant
from .clauses import Unit, head, singular_name
from .frames import Frame, is_part, is_tray, supply_kind, tool_action
from .imperative import imperative
from .reader import ACTIONS, Reading
from .ruled import CARRY, Draft, Walk
from .signs import Signs, folded
from .slots import Slot, Told
from .talk import Talk

SAID, UNSAID = 0.3, 0.4   # from this chance on something is done: to a part that is named, to a pronoun or what is left out
AGREED, DENIED = 0.9, -0.7  # log odds that a step also read by the rules gains, and one that they take for not done
TOLD = 0.35               # a seldom action has at least this chance where a plain order names it: the talks taught few of them
OWN = 0.25                # weight of what the bench takes a pronoun for, beside what the reader takes it for
_WAYS = {"remove": -1, "install": 1}
_SELDOM = {"loosen", "tighten", "clean", "dry", "adjust", "align", "inspect", "measure", "mark", "repair", "replace", "set aside"}
_NEVER = {"don't", "dont", "n't", "not", "never"}
_SUPPLIES = {"lubricate": ("lubricant",), "degrease": ("solvent",), "clean": ("cleaner", "solvent", "wiper"), "dry": ("wiper",)}


def find_steps(seen: Signs, slots: list[Slot], reading: Reading, tide) -> list[Step]:
    """The steps in their order, each with what is meant by it."""
    drafts = _Judged(seen, tide, slots, reading).drafts()
    return [_step(f"st{n}", d, seen.talk) for n, d in enumerate(drafts, 1)]


class _Judged(Walk):
    """The walk through the talk, led by the reader's chances instead of frames."""

    def __init__(self, seen: Signs, tide, slots: list[Slot], reading: Reading) -> None:
        super().__init__(seen.talk, seen.told, tide)
        self.slots, self.reading = slots, reading
        at = {s.id: n for n, s in enumerate(seen.talk.sentences)}
        self.ruled: dict[tuple[int, str], list[str]] = {}   # sentence, part: what the rules alone say is done to it
        for step in seen.steps:
            for sentence in step.sentences:
                self.ruled.setdefault((at[sentence], folded(step.part)), []).append(step.do)
        self.names: dict[int, str] = {}          # slot: the part that it proved to mean

    def _clause(self, told: Told, ahead: Told | None) -> None:
        units = told.clause.units
        self._count_corrected(told)
        for unit in units:
            if unit.group == "tool" and not is_tray(unit):
                self.tool = (told.sentence, unit)
                if any(w in unit.name.lower() for w in data("actions")["drivers"]["words"]):
                    self.driver = (told.sentence, unit)
            if unit.group == "supply":
                self.supply[supply_kind(unit.name)] = (told.sentence, _as_said(unit))
            if unit.group == "part" and (len(unit.text.split()) > 1 or head(unit.text) not in self.bench.heads):
                self.bench.said[unit.name] = singular_name(unit.text)
                self.bench.heard_as(unit, unit.name)
        holds = self._holds(units)
        acted = []
        for j in told.slots:
            unit = self.slots[j].unit
            chances = self._weighed(j, told)
            best = int(chances[1:].argmax()) + 1
            if chances[best] >= (SAID if unit is not None and unit.kind == "thing" else UNSAID):
                acted.append(unit)
                self._do(j, ACTIONS[best], float(chances[best]), told, holds)
        for unit in units:
            if is_part(unit) and unit not in acted:
                self._mention(unit, told, holds)
        self._lean_on_last(told)

    def _weighed(self, j: int, told: Told):
        """The reader's chances of a slot, with what the rules made of it: measured over the talks, either knows what the other misses."""
        chances = self.reading.actions[j].copy()
        if not told.doubt:
            words = {u.text for u in told.clause.units[:4]}
            return _shifted(chances, DENIED) if not words & _NEVER or "forget" in words else chances * 0
        unit = self.slots[j].unit
        for frame in told.frames:
            if frame.do in _SELDOM and frame.kind in {"verb", "phrase"} and frame.by == "you" and unit in frame.to[:1]:
                k = ACTIONS.index(frame.do)
                chances[k] = max(chances[k], TOLD)
        if unit is not None and unit.kind == "thing":
            agreed = [ACTIONS.index(do) for do in self.ruled.get((told.sentence, folded(unit.name)), ())]
            chances[agreed] = _shifted(chances[agreed], AGREED)
        return chances

    def _do(self, j: int, do: str, chance: float, told: Told, holds: str | None) -> None:
        """One slot where something is done."""
        unit, units, way = self.slots[j].unit, told.clause.units, _WAYS.get(do, 0)
        ground = ()
        if unit is not None:
            i = units.index(unit)
            ground = tuple(u for n, u in enumerate(units) if n > i and u.kind == "thing" and units[n - 1].kind == "word" and units[n - 1].tag in {"IN", "RP", "TO"})
        if unit is not None and unit.kind == "thing":
            meants = self.bench.meant(unit, do, way, ground, holds)
        else:
            meants = self._referents(j, unit or Unit("pro", "it", "it", told.clause.at), do, way, ground, holds)
        bare = unit is not None and unit.kind == "thing" and self.bench.is_generic(unit)
        for meant in meants:
            if bare:
                self.bench.heard_as(unit, meant.name)
            self.bench.note(meant.name, meant.qty, meant.plural, PATIENT)
            qty = meant.qty or (self.bench.counts.get(meant.name) if do in {"remove", "install", "tighten", "loosen"} else None)
            draft = Draft(do, meant.name, qty, self._tool_at(j, do, meant.name, told), self._supply_at(j, do, meant.name, told), *self._moment(told),
                          confidence=round(chance * meant.confidence / 0.9, 2), sentences=[told.sentence], plural=meant.plural or bool(qty and qty > 1), tide=self.tide(told.sentence))
            if bare:
                draft.said = singular_name(unit.text).split()[-1]
            self._keep(draft)
        if meants:
            self.names[j] = meants[0].name

    def _referents(self, j: int, unit: Unit, do: str, way: int, ground: tuple[Unit, ...], holds: str | None) -> list[Meant]:
        """What a pronoun, or what is left out, stands for: the reader's chances and the bench's own opinion together."""
        if not unit.qty and self.after and len(self.after[0].clause.units) == 1 and (count := self.after[0].clause.units[0]).tag == "CD":
            unit = replace(unit, qty=count.qty)  # "out they all come, six"
        if row := self._row_of(unit, j):
            return row
        own = self.bench.meant(unit, do, way, ground, holds)
        weights: Counter[str] = Counter()
        plural: dict[str, bool] = {}
        for m, chance in self.reading.meant.get(j, ()):
            other = self.slots[m].unit
            if unit.text != "it" and other in ground:
                continue
            name = self.names.get(m) or other.name
            weights[name] += chance * self.bench.fits(name, do, way) ** 0.5
            plural[name] = bool(other.plural)
        for meant in own[:1]:
            weights[meant.name] += OWN * meant.confidence
            plural.setdefault(meant.name, meant.plural)
        if not weights:
            return own
        name, weight = weights.most_common(1)[0]
        if len(own) > 1 and name == own[0].name:
            return own
        return [Meant(name, unit.qty, 0.4 + 0.5 * weight / weights.total(), plural[name])]

    def _row_of(self, unit: Unit, j: int) -> list[Meant]:
        told = self.told[self.slots[j].told]
        return self._in_a_row(unit, told) if unit.kind == "pro" and self.slots[j].unit is not None else []

    # -- with what

    def _near(self, j: int, group: str) -> list[Unit]:
        """Tools or supplies of the sentence, nearest clause first, those that follow before those that went before."""
        here = self.slots[j].told
        clauses = [k for k in range(max(0, here - 12), min(len(self.told), here + 13)) if self.told[k].sentence == self.told[here].sentence
                   and (k == here or not _NEVER & {u.text for u in self.told[k].clause.units} and self.told[k].clause.units[0].text not in {"no", "nothing"})]
        clauses.sort(key=lambda k: (abs(k - here), k < here))
        return [u for k in clauses for u in self.told[k].clause.units if u.group == group]

    def _tool_at(self, j: int, do: str, part: str, told: Told) -> str | None:
        tools = self._near(j, "tool")
        washing = do in {"clean", "degrease", "dry", "lubricate", "set aside"}
        tools = [u for u in tools if not is_tray(u)] + ([u for u in tools if is_tray(u)] if washing else [])
        if do in {"remove", "install", "loosen", "tighten"}:
            tools = [u for u in tools if tool_action(u.name) in {None, "tighten"}]
            if head(part) in {"screw", "bolt", "nut"}:
                drivers = data("actions")["drivers"]["words"]
                tools.sort(key=lambda u: not any(w in u.name.lower() for w in drivers))
        frame = Frame(do, way=_WAYS.get(do, 0), tool=tools[0] if tools else None)
        return self._tool(frame, do, part, told.sentence)

    def _supply_at(self, j: int, do: str, part: str, told: Told) -> str | None:
        supplies = self._near(j, "supply")
        for kind in _SUPPLIES.get(do, ()):
            near = [u for u in supplies if supply_kind(u.name) == kind]
            if near:
                return _as_said(next((u for u in near if u.name != "water"), near[0]))
        if do in {"install", "tighten", "repair"}:
            return next((_as_said(u) for u in supplies if not supply_kind(u.name) and any(w in u.name for w in _BONDS)), None)
        for kind in _SUPPLIES.get(do, ()):
            if kind in self.supply and told.sentence - self.supply[kind][0] <= (CARRY if do != "clean" else 1):
                return self.supply[kind][1]
        return None


def _shifted(chances, odds: float):
    """Chances with their log odds moved."""
    return 1 / (1 + (1 / chances.clip(1e-6, 1 - 1e-6) - 1) * exp(-odds))


_BONDS = ("lock", "glue", "adhesive", "epoxy", "sealant")


def _as_said(unit: Unit) -> str:
    """The host's own word for a supply, without what it only looks like: a "damp rag" is a rag."""
    said = singular_name(unit.text)
    return unit.name if said.endswith(" " + unit.name) else said


def _step(id: str, draft: Draft, talk: Talk) -> Step:
    return Step(id=id, start=draft.start, end=max(draft.end, draft.start), do=draft.do, part=draft.part, qty=draft.qty, tool=draft.tool, supply=draft.supply,
                text=imperative(draft.do, draft.part, draft.qty, draft.tool, draft.supply, draft.plural), phase=draft.phase,
                sentences=[talk.sentences[n].id for n in draft.sentences], confidence=_calibrated(draft.confidence), undone=draft.undone)


def _calibrated(sure: float) -> float:
    """The share of steps as sure as this that were right, in episodes that the reader was not taught (benchmarks/teach)."""
    import numpy

    return round(float(numpy.interp(sure, [0.2, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 0.95, 1.0], [0.35, 0.39, 0.43, 0.56, 0.66, 0.69, 0.79, 0.87, 0.95])), 2)
