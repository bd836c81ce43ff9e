"""Steps as the rules alone read them: frames of clauses, joined to the parts they mean as the bench stands at that moment.

The trained reader takes them as one sign among others (signs.py); steps.py builds on the same walk.
"""

from dataclasses import dataclass, field, replace
from math import exp

import numpy as np
from spacy.tokens import Doc

from ..record import Sentence, Step
from ..trade import data
from ..trade.wording import imperative
from .bench import FRONT, GROUND, PATIENT, TOPIC, Bench, Meant
from .clauses import Clause, Unit, clauses_of, head, singular_name
from .frames import Frame, frames_of, is_part, is_tray, supply_kind
from .slots import Told
from .talk import Talk

_PHASES = {"remove": "disassembly", "install": "reassembly", "clean": "cleaning", "degrease": "cleaning", "dry": "cleaning", "lubricate": "lubrication", "inspect": "inspection", "measure": "inspection", "test": "testing",
           "adjust": "adjustment", "repair": "repair", "replace": "repair", "mark": "inspection"}
_HARD = {"test", "inspect", "measure", "loosen", "mark"}   # right less often than how they are told would say
CARRY = 3             # sentences: how long a tool or a supply named before stays in the hand
SAME = 25.0           # seconds: the same thing told again within this is one step
_SURE = {"verb": 0.9, "phrase": 0.85, "inverted": 0.85, "bare": 0.8, "spread": 0.85, "tool": 0.75, "named": 0.55}


@dataclass
class Draft:
    do: str
    part: str
    qty: int | None
    tool: str | None
    supply: str | None
    start: float
    end: float
    confidence: float
    sentences: list[int] = field(default_factory=list)
    new: bool = False            # the piece fitted is a new one
    exchanged: float = 0.0       # the reader's chance that it is, or that what comes off is an old one that stays off
    undone: bool = False
    plural: bool = False
    tide: float = 0.0
    said: str | None = None      # the host's own bare word, where which piece it is stays open
    in_full: bool = False        # the host names the piece in full

    @property
    def phase(self) -> str:
        """The phase that the action belongs to; what moves or holds a part belongs to the way the job runs."""
        return _PHASES.get(self.do) or ("reassembly" if self.tide > 0 else "disassembly")


def ruled_steps(talk: Talk, told: list[Told], tide) -> list[Step]:
    """The steps in their order, each with what is meant by it."""
    drafts = Walk(talk, told, tide).drafts()
    return [_step(f"r{n}", d, talk.sentences) for n, d in enumerate(drafts, 1)]


# -- which clauses tell of something done


def tell(talk: Talk) -> list[Told]:
    """The clauses of a talk with their frames and whether they tell of something done."""
    out = []
    for n, doc in enumerate(talk.docs):
        whole = " " + doc.text.lower().replace("’", "'") + " "
        doubts = _Doubts(whole, doc)
        for clause in clauses_of(doc):
            doubt = doubts.of(clause, doc)
            share = doc[clause.at].idx / max(1, len(doc.text))
            out.append(Told(n, clause, frames_of(clause), doubt, share))
    _conditional(out)
    return out


class _Doubts:
    """Negated, hypothetical, past or somebody else's: how far each clause of one sentence tells of something done."""

    def __init__(self, whole: str, doc) -> None:
        rules = data("actions")["undoing"]
        self.rules = {k: set(v) for k, v in rules.items()}
        self.whole = "".join(c if c.isalnum() or c in "'- " else " " for c in whole) + " "
        self.past = any(f" {p} " in self.whole for p in rules["past"] if " " in p)
        self.elsewhere = bool(_RELATIONS & set(self.whole.split())) and any(t.tag_ == "VBD" for t in doc)
        self.other = False       # somebody else is doing, until a new doer is named
        self.question = whole.rstrip().endswith("?")
        self.iffy = 0            # clauses still under an "if"
        self.before: float = 1.0

    def of(self, clause: Clause, doc) -> float:
        words = [u.text for u in clause.units]
        doubt = self._of(clause, words, doc)
        if clause.link == "or" and self.before == 0:
            doubt = 0.0
        self.before = doubt
        return doubt

    def _of(self, clause: Clause, words: list[str], doc) -> float:
        rules = self.rules
        if is_warning(doc) or is_state(clause):
            return 0.0
        if clause.link in {"if", "unless"} or words[:1] == ["if"]:
            self.iffy = 3
            return 0.0
        if self.iffy and clause.link in {",", "and", "then", "so", "or"} and not {"now", "i", "i'm"} & set(words):
            self.iffy -= clause.link != "so"
            return 0.0
        self.iffy = 0
        if clause.link in {"until", "till", "because", "'cause", "cause", "cos", "otherwise", "when", "whenever", "before", "after", "since", "although", "though", "who", "where",
                           "except", "once"}:
            return 0.0
        if self.question or words[:1] and words[0] in {"did", "does", "do", "can", "could", "should", "is", "are", "was", "how", "what", "why", "who", "where"} and clause.units[0].kind == "word" \
                and not (words[0] == "do" and len(words) > 1 and clause.units[1].kind in {"thing", "pro"}) and not words[0] in {"is", "are", "was"}:
            return 0.0
        if self.past or rules["past"] & set(words):
            return 0.0
        if rules["negated"] & set(words) and "forget" not in words:
            if not (words[:1] == ["leave"] and "dry" in words):
                return 0.0
        if rules["hypothetical"] & set(words) or any(u.text == "'d" for u in clause.units):
            return 0.0
        if any(f" {w} " in self.whole for w in ("every spring", "every season", "every trip", "after a trip", "after each trip", "once a year", "when you store", "for storage")):
            return 0.0
        if self.elsewhere or self._others(clause, doc):
            return 0.0
        return 1.0

    def _others(self, clause: Clause, doc) -> bool:
        """Is the doer somebody else than the host or the viewer?"""
        subject = next((u for u in clause.units if u.kind == "word" and u.tag.startswith(("PRP", "NN", "WP")) or u.kind == "thing" and u.group == "noun"), None)
        words = [u.text for u in clause.units]
        if words[:1] and words[0] in {"he", "somebody", "someone", "people", "folks", "everybody", "nobody"} or {"somebody", "someone"} & set(words):
            self.other = True
        elif subject is not None and subject.text.split()[-1] in _RELATIONS:
            self.other = True
        elif subject is not None and (subject.text in {"i", "we", "you"} or subject.kind == "thing") or any(u.group == "part" and u.at == clause.at for u in clause.units):
            self.other = False
        return self.other


_RELATIONS = set(data("actions")["undoing"]["relations"])


def is_warning(doc: Doc) -> bool:
    """"Force it and you've stripped it": does the sentence open as one that warns?"""
    return doc[0].lower_ in data("actions")["undoing"]["warned"]


def is_state(clause: Clause) -> bool:
    """"The drag washers are greased": is it told how a thing is, not what is done to it?"""
    words = [u.text for u in clause.units]
    return len(words) > 2 and words[-1] in data("actions")["undoing"]["states"] and words[-2] in _IS and not _NOW & set(words)


_IS, _NOW = {"is", "are", "'s", "'re"}, {"now", "then", "just"}


def _conditional(told: list[Told]) -> None:
    """"Swap those and you've got a grinder", "force it and it'll strip": told as a warning, not to be done."""
    for this, after in zip(told, told[1:]):
        words = [u.text for u in after.clause.units]
        if this.sentence == after.sentence and after.clause.link == "and" and words[:1] and words[0] in {"you", "it", "they"} \
                and words[1:2] and words[1] in {"'ve", "'ll", "will", "own", "have"} and any(f.by == "you" and f.kind in {"verb", "phrase"} for f in this.frames):
            this.doubt = 0.0


def tide_of(told: list[Told], sentences: int):
    """The way the job runs at a sentence, about -1 tearing down to +1 building up, from what is told plainly."""
    marks = [(t.sentence, f.way * (0.4 if f.kind == "bare" else 1.0)) for t in told if t.doubt for f in t.frames if f.way and f.kind != "named" and not (f.kind == "bare" and f.way > 0 and t.clause.link not in {"", "then", ","})
             and f.do in {None, "remove", "install"} and not (f.way > 0 and f.by == "it" and f.verb in {"go", "fit", "sit"} and f.to and f.to[0].text in {"ones", "one"})]
    if not marks:
        return lambda n: -0.2
    # the turning point: the last split that most marks agree with, off before it and on after it; counted in tenths, so that equal is equal
    off, on = np.zeros(sentences, int), np.zeros(sentences, int)
    for n, way in marks:
        (off if way < 0 else on)[n] += round(10 * abs(way))
    agree = np.concatenate([[0], off.cumsum()]) + np.concatenate([on[::-1].cumsum()[::-1], [0]])
    turn = len(agree) - 1 - int(agree[::-1].argmax())
    # marks near by count by how near they are, a third as much for every three sentences: one sweep from either side
    here, fade = (on - off) / 10, exp(-1 / 3)
    before, after = here.copy(), np.zeros(sentences)
    for n in range(1, sentences):
        before[n] += fade * before[n - 1]
        after[-1 - n] = fade * (after[-n] + here[-n])
    near = before + after

    def tide(n: int) -> float:
        return float(max(-1.0, min(1.0, 0.25 * near[n] + (0.6 if n >= turn else -0.6))))

    return tide


# -- the walk through the talk


class Walk:
    def __init__(self, talk: Talk, told: list[Told], tide) -> None:
        self.talk, self.told, self.tide = talk, told, tide
        self.bench = Bench(talk.trade, talk.kind)
        self.done: list[Draft] = []
        self.tool: tuple[int, Unit] | None = None        # sentence, tool last named
        self.driver: tuple[int, Unit] | None = None      # sentence, driver last named
        self.tested = -1                                 # sentence of the last trial: what moves in it then is its effect
        self.supply: dict[str, tuple[int, str]] = {}     # kind: (sentence, name)
        self.used_on: dict[str, str] = {}                # part: driver that took it off
        self.row: list[tuple[int, str]] = []             # sentence, part: named one after another with nothing done to them yet

    def drafts(self) -> list[Draft]:
        """The steps, each part called by the host's word for it."""
        for k, told in enumerate(self.told):
            self.bench.clause += told.doubt > 0 or self.bench.clause == 0   # an aside does not make the bench forget
            self.after = [t for t in self.told[k + 1:k + 8] if t.sentence == told.sentence]
            ahead = self.after[0] if self.after else None
            self.bench.rebuilding = self.tide(told.sentence) > 0.3
            self._clause(told, ahead)
        for draft in self.done:
            draft.part = draft.said or self.bench.label(draft.part)
        return self.done

    def _clause(self, told: Told, ahead: Told | None) -> None:
        units = told.clause.units
        self._count_corrected(told)
        frames = told.frames if told.doubt else []
        for unit in units:
            if unit.group == "tool" and not is_tray(unit) and told.doubt:
                self.tool = (told.sentence, unit)
                if any(w in unit.name.lower() for w in data("actions")["drivers"]["words"]):
                    self.driver = (told.sentence, unit)
            if unit.group == "supply" and told.doubt:
                self.supply[supply_kind(unit.name)] = (told.sentence, unit.name)
        holds = self._holds(units)
        acted: list[Unit] = [u for f in frames for u in f.to]
        for unit in units:
            if unit.group == "part" and len(unit.text.split()) > 1 or unit.group == "part" and head(unit.text) not in self.bench.heads:
                self.bench.said[unit.name] = singular_name(unit.text)
                self.bench.heard_as(unit.text, unit.name)
        for unit in units:
            if is_part(unit) and unit not in acted:
                self._mention(unit, told, holds)
                if unit.group == "part" and not frames and told.doubt and not _behind_preposition(units, unit):
                    self.row += [(told.sentence, m.name) for m in self.bench.meant(unit, None, 0, (), holds)]
        for frame in frames:
            drafts = list(self._read(frame, told, ahead, holds))
            for draft in drafts:
                self._keep(draft)
            if not drafts:
                for unit in frame.to:
                    self._mention(unit, told, holds, FRONT if frame.kind == "named" and ahead else None)
                    if unit.group == "part" and told.doubt:
                        self.row += [(told.sentence, m.name) for m in self.bench.meant(unit, None, 0, (), holds)]
        if not frames or all(f.kind == "named" for f in frames):
            self._lean_on_last(told)

    def _lean_on_last(self, told: Told) -> None:
        """"…, with a toothpick" and "…, both of them" belong to the step just told."""
        units, last = told.clause.units, self.done[-1] if self.done else None
        if last is None or told.sentence not in last.sentences or not told.doubt:
            return
        tool = next((u for u in units if u.group == "tool"), None)
        with_it = any(u.text == "with" and j + 1 < len(units) and units[j + 1].group == "tool" for j, u in enumerate(units))
        if tool and (with_it or len(units) == 1):
            of_it = [d for d in self.done[-4:] if told.sentence in d.sentences and not d.tool]
            fasteners = [d for d in of_it if head(d.part) in {"screw", "bolt", "nut"}]
            for draft in of_it[-1:] if with_it else fasteners[-1:]:
                if turns(tool.name, draft.part):
                    draft.tool = tool.name

    def _mention(self, unit: Unit, told: Told, holds: str | None, weight: float | None = None) -> None:
        """What is spoken of without being acted on: what a later "it" may mean."""
        weight = weight or (GROUND if _behind_preposition(told.clause.units, unit) else TOPIC) * (1.0 if told.doubt else 0.4)
        if unit.kind == "pro":
            if meant := self.bench.meant(unit, None, 0):
                self.bench.note(meant[0].name, self._one_each(unit, told), meant[0].plural, weight * 0.7)
            return
        for m in self._mentioned(unit, told, holds):
            self.bench.note(m.name, self._one_each(unit, told) or unit.qty, bool(unit.plural), weight)

    def _one_each(self, unit: Unit, told: Told) -> int | None:
        """How many, where each of several places has one: not known to the rules alone, whose signs the reader was taught with."""
        return None

    def _mentioned(self, unit: Unit, told: Told, holds: str | None) -> list[Meant]:
        """The pieces that a name stands for where nothing is done to them."""
        after = [u for u in told.clause.units if u.at > unit.at and u.group == "part"]
        place = tuple(after[:1]) if after and _preposition_between(told.clause.units, unit, after[0]) else ()
        return self.bench.meant(unit, None, 0, place, holds)

    def _holds(self, units: tuple[Unit, ...]) -> str | None:
        """What is held: "three screws hold the bridge on", "hold it"."""
        for j, unit in enumerate(units):
            if unit.lemma in {"hold", "secure", "retain", "fasten"}:
                for after in units[j + 1:]:
                    if after.group == "part":
                        return after.name
                    if after.kind == "pro":
                        seen = next((s for s in self.bench.recent() if head(s.name) not in {"screw", "bolt", "nut"}), None)
                        return seen.name if seen else None
        return None

    def _count_corrected(self, told: Told) -> None:
        units = told.clause.units
        if len(units) <= 3 and units[-1].kind == "pro" and units[-1].tag == "CD" and units[-1].qty:
            before = " ".join(u.text for u in units[:-1])
            if told.clause.link in {",", ".", ""} and before in {"", "no", "make that", "sorry", "wait"}:
                k = self.told.index(told)
                words = {w for t in self.told[max(0, k - 3):k] if t.sentence >= told.sentence - 1 for w in [" ".join(u.text for u in t.clause.units)]}
                if before or words & {"no", "sorry", "wait", "hang on", "hold on", "make that", "scratch that", "no wait", "no sorry"}:
                    name = self.bench.correct_count(units[-1].qty)
                    for draft in self.done[-3:]:
                        if draft.part == name and draft.end > self.talk.sentences[told.sentence].start - 20:
                            draft.qty = units[-1].qty

    # -- one frame

    def _read(self, frame: Frame, told: Told, ahead: Told | None, holds: str | None):
        tide = self.tide(told.sentence)
        do, way, sure = frame.do, frame.way, _SURE[frame.kind] * told.doubt
        if frame.kind == "named":
            way, sure = self._named(frame, told, ahead, tide)
            do = None if way else self._listed(frame, told)
            if not way and not do:
                return
            sure = sure or 0.55
        if do is None and not way:
            if abs(tide) < 0.25:
                return
            way = 1 if tide > 0 else -1
            sure *= 0.8
        if do is None and frame.kind == "bare" and frame.verb != "be" and way > 0 and tide < 0 and not _said_back(told.clause):
            return  # "washers on the shaft" while tearing down says where they are
        if do is None and way > 0 and frame.by == "it" and self.tested == told.sentence:
            return  # "flick the lever, pinion goes up"
        if do is None and way > 0 and frame.by == "it" and frame.verb in {"go", "fit", "sit", "come"} and tide < -0.3 and not _said_back(told.clause):
            return  # "the long ones go in the pillars" says where they belong
        if do is None and way < 0 and frame.kind == "bare" and tide > 0.3 and not _said_back(told.clause):
            return  # "handle on, knob out"
        if do == "adjust" and frame.verb == "back" and tide < -0.3:
            do, way = "remove", -1
        bath = self._solvent_in(told.sentence) if do == "set aside" else None
        do = "clean" if bath else do
        if do is None and way < 0 and frame.verb == "back" and tide > 0.4:
            do = "loosen"
        if do is None and way > 0 and frame.kind in {"bare", "verb"} and ahead and ahead.clause.link in {"till", "until"} and not frame.ground:
            in_place = self._patients(frame, "adjust", 0, holds, told)
            if in_place and (seat := self.bench.seats.get(in_place[0].name)) and seat.is_back:
                do = "adjust"  # "cap in till the spool drags"
        if do is None and way > 0 and not frame.ground and self._in_the_bath(frame, told):
            do = "clean"
        do = do or ("remove" if way < 0 else "install")
        sure *= self._tense(frame, told)
        if sure <= 0:
            return
        if frame.verb in {"tip", "pour", "shake"} and do == "remove" and self.done and self.done[-1].do in {"clean", "degrease"} and told.sentence in self.done[-1].sentences:
            return  # the cleaner is tipped out, not the part
        meants = self._patients(frame, do, way, holds, told)
        for unit, meant in zip(frame.to, meants):
            if unit.kind == "thing" and self.bench.is_generic(unit):
                self.bench.heard_as(unit.text, meant.name)
        if way < 0 and frame.kind in {"bare", "named"} and meants and all((seat := self.bench.seats.get(m.name)) and seat.is_off and self.bench.clause - seat.off > 6 for m in meants):
            return  # "bearings out", of the bath
        for meant in meants:
            if do == "test" and head(meant.name) in {"screw", "bolt", "nut", "washer"}:
                continue
            if do == "test":
                self.tested = told.sentence
            self.bench.note(meant.name, meant.qty, meant.plural, PATIENT)
            qty = meant.qty or (self.bench.counts.get(meant.name) if do in {"remove", "install", "tighten", "loosen"} else None)
            yield Draft(do, meant.name, qty, self._tool(frame, do, meant.name, told.sentence), bath or self._supply(frame, do, told.sentence),
                         *self._moment(told), confidence=round(sure * meant.confidence / 0.9, 2), sentences=[told.sentence], plural=meant.plural or bool(qty and qty > 1), tide=tide)

    def _solvent_in(self, sentence: int) -> str | None:
        spans = self.talk.docs[sentence].spans.get("terms", ())
        return next((s.kb_id_ for s in spans if s.label_ == "supply" and supply_kind(s.kb_id_) in {"solvent", "cleaner"}), None)

    def _in_the_bath(self, frame: Frame, told: Told) -> bool:
        """"warm water and soap in the tub, and in goes the bridge": into what was just named, not onto the reel."""
        baths = [n for k, (n, _) in self.supply.items() if k in {"solvent", "cleaner"}]
        words = {u.text for u in told.clause.units}
        return bool(baths) and told.sentence - max(baths) <= 1 and "in" in words

    def _patients(self, frame: Frame, do: str, way: int, holds: str | None, told: Told) -> list[Meant]:
        bench = self.bench
        if frame.to:
            out = []
            for unit in frame.to:
                if unit.kind == "pro" and not unit.qty and self.after and len(self.after[0].clause.units) == 1 and (count := self.after[0].clause.units[0]).tag == "CD":
                    unit = replace(unit, qty=count.qty)  # "out they all come, six"
                if unit.kind == "pro" and do == "test" and frame.verb in {"crank", "wind", "turn"}:
                    near = next((s for s in bench.recent(4) if head(s.name) in {"spool", "rotor", "handle", "post", "star"}), None)
                    out.append(Meant(near.name if near else "handle", None, 0.7))
                    continue
                out += self._in_a_row(unit, told) or bench.meant(unit, do, way, frame.ground, holds)
            return out
        if frame.by == "it" or do in {"test"} and frame.verb in {"listen"}:
            return []
        return bench.meant(Unit("pro", "it", "it", frame.at, plural=None), do, way)

    def _in_a_row(self, unit: Unit, told: Told) -> list[Meant]:
        """"The pawl, the pin and the spring, they all go in": what was just named in a row, if the pronoun is for several."""
        if unit.kind != "pro" or not unit.plural or unit.qty and unit.text not in {"both", "pair"}:
            return []
        here = list(dict.fromkeys(name for n, name in self.row if n == told.sentence)) or list(dict.fromkeys(name for n, name in self.row if n == told.sentence - 1))
        self.row.clear()
        many = {s.name for s in self.bench.recent(8) if s.plural}
        return [Meant(name, None, 0.7) for name in here] if 2 <= len(here) <= 6 and not many & set(here) else []

    def _named(self, frame: Frame, told: Told, ahead: Told | None, tide: float) -> tuple[int, float]:
        """A part named and nothing said: a step where the job runs one way and the part waits for it."""
        unit = frame.to[0]
        if told.clause.units[-1].text == "all" or "rule" in told.clause.units[0].text:
            return 0, 0.0
        if any(g.group == "noun" and head(g.text) not in self.bench.heads for g in frame.ground):
            return 0, 0.0
        if unit.kind == "pro" and not (unit.qty and unit.qty > 1 and unit.tag == "CD" or unit.text in {"em", "'em"}) or unit.group == "noun" and head(unit.text) not in self.bench.heads or abs(tide) < 0.3:
            return 0, 0.0
        if ahead and _describes(ahead.clause):
            return 0, 0.0
        for after in self.after:
            if any(u.group in {"part", "noun"} for u in after.clause.units):
                break
            if any(f.kind != "named" and f.do != "tighten" and (not f.to or all(u.kind == "pro" for u in f.to)) for f in after.frames):
                return 0, 0.0
        way = 1 if tide > 0 else -1
        meant = self.bench.meant(unit, None, way, frame.ground)
        if not meant:
            return 0, 0.0
        seat = self.bench.seats.get(meant[0].name)
        words = [u.text for u in told.clause.units]
        marked = told.clause.link in {"then", "now", "next"} or bool({"then", "next", "last", "lastly", "finally", "first"} & set(words[:2]))
        if unit.kind == "pro":  # "same number one, all four of 'em"
            driven = self.driver is not None and self.driver[0] == told.sentence and head(meant[0].name) in {"screw", "bolt", "nut"}
            return (way, 0.5) if driven and (seat is None or seat.is_off == (way > 0)) else (0, 0.0)
        plain = not _STATES & {t.lemma_.lower() for t in self.talk.docs[told.sentence]} and not {"same", "new", "some", "a"} & set(unit.said)
        going_on = any(d.do == "install" and self.talk.sentences[told.sentence].start - d.start < 40 for d in self.done[-4:])
        going = any(d.do == "remove" and self.talk.sentences[told.sentence].start - d.start < 40 for d in self.done[-4:])
        counted = bool(unit.qty) and head(unit.text) in {"screw", "bolt", "nut", "clip", "pin"}
        tooled = any(u.group == "tool" and not is_tray(u) for u in told.clause.units)
        if way > 0 and seat and seat.is_off and len(words) <= 6 and (plain or marked or counted or told.clause.link == "" or told.share < 0.2):
            return 1, 0.6
        last = self.done[-1] if self.done else None
        listed = last is not None and told.sentence in last.sentences and last.do == ("install" if way > 0 else "remove") and len(words) <= 3 and told.clause.link in {",", "and", "then"}
        if listed and unit.kind == "thing" and not (seat and (seat.is_back if way > 0 else seat.is_off)) and meant[0].name != last.part and not frame.ground:
            return way, 0.55  # "rotor on, nut, washer, spool"
        alone = (ahead is None and marked or plain and going) and len(words) <= 4
        if way > 0 and not (seat and seat.is_back) and plain and going_on and len(words) <= 4 and not frame.ground:
            return 1, 0.5
        if way < 0 and not (seat and seat.is_off) and (counted or alone or tooled):
            return -1, 0.5
        return 0, 0.0

    def _listed(self, frame: Frame, told: Told) -> str | None:
        """"A drop on the pawl, the worm and the pin": what is done to the first is done to those listed after it."""
        last, unit = self.done[-1] if self.done else None, frame.to[0]
        if last is None or told.sentence not in last.sentences or last.do in {"remove", "install", "test", "inspect", "measure", "adjust", "set aside"} or unit.kind != "thing":
            return None
        short = len(told.clause.units) <= 3 and told.clause.link in {",", "and", "then"} and not frame.ground
        return last.do if short and not any(u.group in {"supply", "tool"} for u in told.clause.units) else None

    def _tense(self, frame: Frame, told: Told) -> float:
        """Past and to-come tell less surely of something done now."""
        verb = next((u for u in told.clause.units if u.at == frame.at), None)
        words = [u.text for u in told.clause.units]
        if verb is None or verb.kind != "word":
            return 1.0
        if verb.tag == "VBG" and not any(u.lemma == "be" or u.text in {"keep", "start"} for u in told.clause.units if u.at < verb.at):
            return 0.0
        if verb.tag == "VBD" and frame.by == "i":
            return 0.55 if frame.do in {"clean", "degrease", "lubricate", "dry", "repair", "measure"} else 0.0
        if verb.tag == "VBD" and frame.by == "it":
            return 0.0 if frame.way > 0 or {"way", "order", "how", "as", "same"} & set(words) else 0.7
        before = next((u.text for u in reversed(told.clause.units) if u.at < verb.at), "")
        if before in {"try", "trying", "tried", "stop", "of", "for", "without"} or {"try", "want", "wants"} & set(words) and frame.do is None:
            return 0.0
        if {"gon", "going"} & set(words):
            return 0.7
        return 1.0

    def _tool(self, frame: Frame, do: str, part: str, sentence: int) -> str | None:
        rules = data("actions")["drivers"]
        if frame.tool and not is_tray(frame.tool):
            self._remember(part, frame.tool)
            return frame.tool.name
        if frame.tool and do in {"clean", "degrease", "dry"}:
            return frame.tool.name
        if do in {"remove", "install", "tighten", "loosen"}:
            kind = head(part)
            suits = rules["screw"] if kind in {"screw", "bolt"} else rules["nut"] if kind == "nut" else None
            in_hand = self.driver if suits else self.tool
            if in_hand and sentence - in_hand[0] <= (CARRY if suits else 0):
                unit = in_hand[1]
                if suits is None or any(w in unit.name.lower() for w in suits + rules["nut"]):
                    self._remember(part, unit)
                    return unit.name
            return self.used_on.get(part)
        if self.tool and self.tool[0] == sentence and do in {"clean", "degrease", "dry", "lubricate", "inspect", "measure"}:
            return self.tool[1].name
        return None

    def _remember(self, part: str, tool: Unit) -> None:
        if any(word in tool.name for word in data("actions")["drivers"]["again"].get(head(part), ())):
            self.used_on[part] = tool.name

    def _supply(self, frame: Frame, do: str, sentence: int) -> str | None:
        if frame.supply:
            return frame.supply.name
        kinds = {"lubricate": ["lubricant"], "degrease": ["solvent"], "clean": ["cleaner", "solvent", "wiper"], "dry": ["wiper"]}.get(do, [])
        for kind in kinds:
            if kind in self.supply and sentence - self.supply[kind][0] <= (CARRY if do != "clean" else 1):
                return self.supply[kind][1]
        return None

    def _moment(self, told: Told) -> tuple[float, float]:
        s: Sentence = self.talk.sentences[told.sentence]
        return round(s.start + told.share * (s.end - s.start), 2), s.end

    # -- one step from several tellings

    def _keep(self, draft: Draft) -> None:
        if draft.do == "clean" and draft.supply and supply_kind(draft.supply) == "solvent":
            draft.do = "degrease"
        if old := self._told_before(draft):
            self._tell_again(old, draft)
            return
        way = {"remove": -1, "install": 1}.get(draft.do, 0)
        if way:
            seat = self.bench.seat(draft.part)
            if way < 0 and seat.is_back and any(d.do == "install" and d.part == draft.part and draft.start - d.start < 90 for d in self.done):
                for old in self.done:  # caught and undone
                    if old.do == "install" and old.part == draft.part and draft.start - old.start < 90:
                        old.undone = draft.undone = True
            if way < 0 and seat.is_off or way > 0 and seat.is_back:
                draft.confidence = round(draft.confidence * 0.6, 2)
            self.bench.moved(draft.part, way, draft.qty)
        self.done.append(draft)

    def _told_before(self, draft: Draft) -> Draft | None:
        """The step that this one tells again: the same thing done just before, and not undone since."""
        for old in reversed(self.done):
            if draft.start - old.end > SAME:
                return None
            if old.part == draft.part and old.do == draft.do:
                return old
            if old.part == draft.part and {old.do, draft.do} == {"remove", "install"}:
                return None
        return None

    def _tell_again(self, old: Draft, draft: Draft) -> None:
        if draft.in_full or old.plural or not old.in_full:  # else "the drag plate" is one, whatever "four on the shaft" may be
            old.qty = draft.qty or old.qty
        old.said = None if draft.in_full else old.said
        old.tool, old.supply = old.tool or draft.tool, old.supply or draft.supply
        old.end, old.new = max(old.end, draft.end), old.new or draft.new and draft.in_full
        old.sentences += [s for s in draft.sentences if s not in old.sentences]
        old.confidence = round(max(old.confidence, draft.confidence), 2)


_STATES = {"be", "'s", "have", "mean", "say", "call", "look", "think", "know", "need", "want", "sit", "see", "feel", "buy", "gon", "which", "that", "like", "'ve", "'ll", "why", "what", "do", "seem"}


def turns(tool: str, part: str) -> bool:
    """May this tool turn that piece: a nut's spanner turns no screw, a screwdriver no nut, tweezers neither; any other piece is open."""
    kinds = data("actions")["drivers"]
    own, other = {"screw": ("screw", "nut"), "nut": ("nut", "screw")}.get(head(part), (None, None))
    return own is None or any(w in tool for w in kinds[own]) or not any(w in tool for w in (*kinds[other], *kinds["never"]))


def _said_back(clause: Clause) -> bool:
    return any(u.text in {"back", "again"} for u in clause.units)


def _describes(clause: Clause) -> bool:
    """"that's the block that pushes the shaft", "this is the big one"."""
    words = [u.text for u in clause.units]
    return len(words) > 1 and words[0] in {"that", "this", "it", "these", "those", "they", "which", "there"} and clause.units[1].lemma == "be"


def _behind_preposition(units: tuple[Unit, ...], unit: Unit) -> bool:
    k = units.index(unit)
    return k > 0 and units[k - 1].kind == "word" and units[k - 1].tag in {"IN", "RP"}


def _preposition_between(units: tuple[Unit, ...], a: Unit, b: Unit) -> bool:
    between = [u for u in units if a.at < u.at < b.at]
    return any(u.text in {"in", "on", "of", "for", "through", "under", "at", "from", "round", "around", "holding"} for u in between) and len(between) <= 3


def _step(id: str, draft: Draft, sentences: list[Sentence]) -> Step:
    return Step(id=id, start=draft.start, end=max(draft.end, draft.start), do=draft.do, part=draft.part, qty=draft.qty, tool=draft.tool, supply=draft.supply,
                text=imperative(draft.do, draft.part, draft.qty, draft.tool, draft.supply, draft.plural), phase=draft.phase,
                sentences=[sentences[n].id for n in draft.sentences], confidence=_calibrated(draft), undone=draft.undone)


def _calibrated(draft: Draft) -> float:
    """The share of steps told like this that were right, over practice and unseen episodes, from the true words and as heard."""
    import numpy

    share = numpy.interp(draft.confidence, [0.2, 0.65, 0.75, 0.85, 1.0], [0.35, 0.42, 0.5, 0.74, 0.8])
    return round(float(share) * (0.6 if draft.do in _HARD else 1.0), 2)
