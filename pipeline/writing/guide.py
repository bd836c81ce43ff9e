"""The service guide as a view-model: the record put in order of service. The screen and the print template only lay it out."""

import re
from functools import cached_property

from pydantic import BaseModel

from ..record import Episode, Fact, Step
from ..trade import data
from .cautions import SIGNALS, Signal, hazards_of, has_word, signal_of, warns
from .lists import parts_of
from .phrasing import imperative
from .plain import clean, clock, moment_link, shorten, web_address
from .settings import WritingSettings
from .stills import Still

_TAKES_OFF = ("remove", "loosen", "set aside", "mark")
_LOOKS = ("inspect", "test", "measure")
_ONCE_IS_ENOUGH = ("inspect", "test", "measure", "clean", "degrease", "dry", "lubricate")  # said twice, done once
_MOST_SAID = 600  # characters
_NEAR = 60.0  # seconds: how far from a step a fact about its part may be said and still be about that step
_MOST_GENERAL = 6  # warnings on the first page
_NOTES = {"orientation": "Which way", "setting": "Setting", "fastener": "Fastener", "measure": "Size", "part_number": "Part number",
          "unsure": "Not certain", "caution": "Mind"}


class Moment(BaseModel):
    """A moment in the footage, as shown ("4:07") and as a link where the episode has an address."""

    seconds: float
    clock: str
    link: str | None = None


class Note(BaseModel):
    label: str
    text: str  # the host's words
    value: str = ""
    moment: Moment
    doubtful: bool = False


class Warned(BaseModel):
    text: str
    moment: Moment | None = None  # None: from the trade's list, not from the host


class Caution(BaseModel):
    """One sign: a signal word, and all that it says at this place."""

    signal: Signal
    lines: list[Warned]


class GuideStep(BaseModel):
    id: str
    number: int
    text: str
    tool: str | None = None
    supply: str | None = None
    moments: list[Moment]
    notes: list[Note] = []
    cautions: list[Caution] = []
    doubtful: bool = False
    quote: str = ""  # the host's own words, where the program is not sure of its own
    still: str | None = None  # path beside the guide, with forward slashes
    alt: str = ""


class Procedure(BaseModel):
    id: str
    title: str
    lead: str
    steps: list[GuideStep]


class Line(BaseModel):
    """A row of a list or a map: its name, what is said about it, its moments."""

    name: str
    text: str = ""
    count: str = ""
    extra: str = ""
    moments: list[Moment] = []
    doubtful: bool = False


class TrayLine(BaseModel):
    part: str
    count: str
    off: Moment | None
    on: Moment | None
    status: str
    alarm: bool
    doubtful: bool = False


class PartLine(BaseModel):
    """A row of the list of parts; `lines` say what was found, what to do with it, where to get it."""

    name: str
    count: str
    number: str
    lines: list[Line]
    moments: list[Moment]
    doubtful: bool = False


class Topic(BaseModel):
    title: str
    lines: list[Line]


class ChapterLine(BaseModel):
    title: str
    moment: Moment


class Guide(BaseModel):
    title: str
    reel: str
    language: str
    standing: str
    url: str | None
    sisters: list[Line]
    signs: list[Line]
    bench_time: str
    cautions: list[Caution]  # those that belong to no one step
    tools: list[Line]
    supplies: list[Line]
    also_named: list[Line]  # tools and supplies that no step uses
    buy: list[Line]
    procedures: list[Procedure]
    fasteners: list[Line]
    lubrication: list[Line]
    dry: list[Line]
    orientation: list[Line]
    tray: list[TrayLine]
    parts: list[PartLine]
    topics: list[Topic]
    chapters: list[ChapterLine]
    step_count: int
    doubtful_count: int


def build_guide(episode: Episode, settings: WritingSettings, stills: dict[str, Still] | None = None) -> Guide:
    """`stills` maps a step's id to its picture, named by its path beside the guide."""
    return _Bench(episode, settings, stills or {}).guide


class _Bench:
    """The record spread out once, so that each part of the guide can be picked from it."""

    def __init__(self, episode: Episode, settings: WritingSettings, stills: dict[str, Still]):
        self.episode, self.settings, self.stills = episode, settings, stills
        shown = [s for s in episode.steps if not s.undone]
        self.steps = sorted(shown + _other_sides(episode, shown), key=lambda s: (s.start, s.end))
        self.facts = sorted((f for f in episode.facts if f.confidence >= settings.leave_out_below), key=lambda f: (f.start, f.end))

    # --- small things

    def moment(self, seconds: float) -> Moment:
        return Moment(seconds=seconds, clock=clock(seconds), link=moment_link(self.episode.url, seconds, self.settings.time_parameter))

    def doubtful(self, finding) -> bool:
        return finding.confidence < self.settings.check_below

    def taken_off_before(self, step: Step) -> bool:
        return any(s.do == "remove" and s.start < step.start and _same_part(s.part, step.part) for s in self.steps)

    def out_of_turn(self, step: Step) -> bool:
        """A part put on before the rebuild that nobody took off: likelier misheard than done."""
        return step.do == "install" and step.start < self.rebuild_begins and not self.taken_off_before(step)

    def phase(self, step: Step) -> str | None:
        return step.phase or self.chapter_phase(step)

    def chapter_phase(self, step: Step) -> str | None:
        before = [c for c in self.episode.chapters if c.start <= step.start + 0.01]
        return max(before, key=lambda c: c.start).phase if before else None

    # --- order of service

    @cached_property
    def rebuild_begins(self) -> float:
        """The fitting from which on the talk is more about putting on than about taking off."""
        early = ("introduction", "identification", "disassembly", "inspection", "cleaning")
        fittings = [(s, s.confidence if self.taken_off_before(s) else s.confidence / 2) for s in self.steps if s.do in ("install", "align")]

        def against(moment: float) -> float:
            return sum(s.confidence for s in self.steps if s.do == "remove" and s.start >= moment) + sum(weight for s, weight in fittings if s.start < moment)

        begins = [s.start for s, _ in fittings if self.chapter_phase(s) not in early] or [s.start for s, _ in fittings]
        return min([float("inf"), *begins], key=lambda t: (against(t), t))

    @cached_property
    def last_install(self) -> float:
        return max((s.start for s in self.steps if s.do == "install"), default=float("inf"))

    @cached_property
    def first_removal(self) -> float:
        return min((s.start for s in self.steps if s.do in ("remove", "loosen")), default=float("inf"))

    @cached_property
    def opened_at(self) -> float:
        """The start of the step that opens the reel: the first cover off, else the last of the outside pieces that come off first."""
        opening = data("service")["opening"]
        taken = [s for s in self.steps if s.do == "remove" and s.start < self.rebuild_begins]
        covers = [s.start for s in taken if _is_one_of(s.part, opening["covers"])]
        if covers:
            return covers[0]
        last = -1.0
        for step in taken:
            if not _is_one_of(step.part, opening["outside"]):
                break
            last = step.start
        return last

    def frees(self, step: Step) -> bool:
        """Oil on what is stuck and comes off next belongs to the taking apart."""
        return has_word(step.supply, data("service")["opening"]["freeing"]) and any(
            s.do in ("remove", "loosen") and s.start >= step.start and _same_part(s.part, step.part) for s in self.steps)

    def procedure_of(self, step: Step) -> str:
        phase = self.phase(step)
        # a test between two fittings stands between them: what it would tell is covered up after
        if step.start >= self.rebuild_begins and (
                self.chapter_phase(step) in ("testing", "adjustment") or step.start > self.last_install and (phase == "testing" or step.do in (*_LOOKS, "adjust"))):
            return "check"
        if phase == "repair" or step.do in ("repair", "replace"):
            return "repair" if step.start < self.rebuild_begins or step.do not in ("install", "align") else "rebuild"
        if phase == "reassembly" or step.do in ("install", "tighten"):
            return "rebuild"
        if step.do in _LOOKS:
            return "look over" if step.start < self.first_removal else "inspect" if step.start < self.rebuild_begins else "rebuild"
        if step.do in ("clean", "degrease", "dry"):
            return "clean" if step.start < self.rebuild_begins or phase == "cleaning" else "rebuild"
        if step.do == "lubricate" and not self.frees(step):
            return "lubricate" if step.start < self.rebuild_begins else "rebuild"
        if step.start >= self.rebuild_begins:
            return "rebuild"
        return "open up" if step.start <= self.opened_at else "strip"

    @cached_property
    def ordered(self) -> list[tuple[dict, list[list[Step]]]]:
        """The procedures with their steps; steps that say the same thing again stand together in one inner list."""
        rows = []
        for procedure in data("service")["procedure"]:
            merged: list[list[Step]] = []
            for step in (s for s in self.steps if self.procedure_of(s) == procedure["id"]):
                again = next((m for m in (merged if step.do in _ONCE_IS_ENOUGH else merged[-1:]) if _says_again(m[0], step)), None)
                if again is None:
                    merged.append([step])
                else:
                    again.append(step)
            if merged:
                rows.append((procedure, merged))
        return rows

    # --- facts at their steps

    @cached_property
    def facts_at(self) -> dict[str, list[Fact]]:
        """Facts by the id of the step that they belong to; what is needed as a piece goes back stands at its fitting too."""
        at: dict[str, list[Fact]] = {}
        for fact in self.facts:
            if fact.kind not in _NOTES:
                continue
            near = [s for s in self.steps if self._about(fact, s)]
            homes = [min(near, key=lambda s: self._farness(fact, s))] if near else []
            if self._needed_again(fact) and not any(s.do in ("install", "align") for s in homes):
                homes += [s for s in self.steps if s.do in ("install", "align") and s.start >= fact.start and _same_part(s.part, self.part_of(fact))][:1]
            for home in homes:
                at.setdefault(home.id, []).append(fact)
        return at

    def _about(self, fact: Fact, step: Step) -> bool:
        if set(fact.sentences) & set(step.sentences) or (step.start <= fact.start and fact.end <= step.end):
            return True  # said in one breath
        if fact.kind == "caution" and (-2.0 <= step.start - fact.end <= 20.0 or 0.0 <= fact.start - step.end <= 6.0):
            return True  # a warning is about what the hands do next, or have just begun
        if _distance(fact, step) > _NEAR:
            return False
        if part := self.part_of(fact):
            return _same_part(part, step.part)
        return fact.kind in ("orientation", "setting") and 0.0 <= fact.start - step.start <= 15.0

    def _needed_again(self, fact: Fact) -> bool:
        """What is seen as a piece comes off and must be known as it goes back: which way round, which one where."""
        return fact.kind == "orientation" or fact.kind == "fastener" and has_word(fact.text, data("service")["fasteners"]["apart"])

    def _farness(self, fact: Fact, step: Step) -> tuple:
        """How far a fact is from a step that it may be about; one of its own part is nearer by some seconds."""
        near = 8.0 if fact.kind == "caution" else _NEAR
        return (not set(fact.sentences) & set(step.sentences), _distance(fact, step) - (near if _same_part(self.part_of(fact), step.part) else 0.0))

    # --- what the reader sees

    @cached_property
    def procedures(self) -> list[Procedure]:
        number, warned, quoted, procedures = 0, set(), "", []
        for procedure, merged in self.ordered:
            steps = []
            for same in merged:
                number += 1
                steps.append(self._step(number, same, warned, quoted))
                quoted = steps[-1].quote or quoted
            procedures.append(Procedure(id=procedure["id"].replace(" ", "-"), title=procedure["title"], lead=procedure["lead"], steps=steps))
        return procedures

    def _step(self, number: int, same: list[Step], warned: set[str], quoted: str) -> GuideStep:
        full = max(same, key=lambda s: (s.qty is not None, s.tool is not None, s.supply is not None, s.confidence))
        facts = [f for s in same for f in self.facts_at.get(s.id, [])]
        text = _said(full.text) or _said(imperative(full))
        doubtful = all(self.doubtful(s) or self.out_of_turn(s) for s in same)
        said = [f for f in facts if f.kind == "caution" and warns(f)]
        hazards = [row for row in hazards_of(full) if row["id"] not in warned]
        warned |= {row["id"] for row in hazards}
        quote = self._talk(full) if doubtful else ""
        if any(_says(_key(f.text), _key(quote)) for f in said):
            quote = ""  # it stands in the sign already
        # what the host chose goes before what the program found; "none" for a step is none for all that say it again
        pictures = sorted((s for s in same if s.id in self.stills), key=lambda s: s.still is None)
        still = self.stills[pictures[0].id] if pictures and not any(s.still == "none" for s in same) else None
        return GuideStep(
            id=f"step-{number}", number=number, text=text,
            tool=_unsaid(full.tool, text), supply=_unsaid(full.supply, text),
            moments=[self.moment(s.start) for s in same],
            notes=self._notes([f for f in facts if f not in said], {_key(f.text) for f in said} | ({_key(quote)} if quote else set())),
            cautions=self._signed(said, hazards), doubtful=doubtful, quote=quote if quote != quoted else "",
            still=still.name if still else None,
            alt=f"The bench at {clock(still.moment)}: {text}" if still else "")

    def _talk(self, step: Step) -> str:
        said = {s.id: s.text for s in self.episode.sentences}
        return _said(" ".join(said[i] for i in step.sentences if i in said))

    def _notes(self, facts: list[Fact], shown: set[str]) -> list[Note]:
        """One note for what is said once, under all that it tells of; nothing that stands at the step already."""
        notes: dict[str, Note] = {}
        for fact in facts:
            key, label = _key(fact.text), _NOTES[fact.kind]
            if any(_says(one, key) for one in shown):
                continue
            doubtful = self.doubtful(fact) or fact.kind == "caution"
            note = notes.setdefault(key, Note(label=label, text=_said(fact.text), value=_unsaid_value(fact), moment=self.moment(fact.start), doubtful=doubtful))
            if label not in note.label.split(", "):
                note.label += f", {label.lower()}"
            note.doubtful &= doubtful
        return list(notes.values())

    def _signed(self, said: list[Fact], hazards: list[dict] = ()) -> list[Caution]:
        """One sign for each signal word, gravest first, the host's own words before the trade's."""
        lines: dict[Signal, list[Warned]] = {}
        for fact in _distinct(said):
            lines.setdefault(signal_of(fact), []).append(Warned(text=_said(fact.text), moment=self.moment(fact.start)))
        for row in hazards:
            lines.setdefault(row["signal"], []).append(Warned(text=row["text"]))
        return [Caution(signal=signal, lines=lines[signal]) for signal in SIGNALS if signal in lines]

    @cached_property
    def guide(self) -> Guide:
        episode, procedures = self.episode, self.procedures
        on_bench = [reel_name(r) for r in episode.reels if r.role == "on_bench"]
        doubtful = sum(s.doubtful for p in procedures for s in p.steps)
        return Guide(
            title=clean(episode.title) or "Reel service", reel=", ".join(dict.fromkeys(on_bench)), language=self.settings.language,
            standing=data("cautions")["standing"], url=web_address(episode.url),
            sisters=self._sisters(), signs=self._signs(), bench_time=self._bench_time(),
            cautions=self._signed(self._general_warnings()),
            tools=[self._named(t) for t in episode.tools if t.name in self.used],
            supplies=[self._named(s) for s in episode.supplies if s.name in self.used],
            also_named=[self._named(t) for t in (*episode.tools, *episode.supplies) if t.name not in self.used], buy=self._buy(),
            procedures=procedures, fasteners=self._fasteners(), lubrication=self._lubrication(), dry=self._dry(),
            orientation=[self._fact_line(f) for f in _distinct([f for f in self.facts if f.kind == "orientation"])],
            tray=self._tray(), parts=self._parts(), topics=self._topics(),
            chapters=[ChapterLine(title=clean(c.title), moment=self.moment(c.start)) for c in sorted(episode.chapters, key=lambda c: c.start)],
            step_count=sum(len(p.steps) for p in procedures), doubtful_count=doubtful)

    @cached_property
    def homeless(self) -> list[Fact]:
        """Facts that stand at no step."""
        placed = {id(f) for facts in self.facts_at.values() for f in facts}
        return [f for f in self.facts if id(f) not in placed]

    def _general_warnings(self) -> list[Fact]:
        """Warnings that belong to no step and make sense by themselves."""
        return [f for f in self.homeless if f.kind == "caution" and warns(f) and len(f.text.split()) > 4][:_MOST_GENERAL]

    @cached_property
    def used(self) -> set[str]:
        """Tools and supplies that a step calls for."""
        return {name for s in self.steps for name in (s.tool, s.supply) if name}

    def part_of(self, fact: Fact) -> str:
        """The part that the fact is about: as found, else the longest part name that its text holds."""
        if fact.part:
            return fact.part
        held = [name for name in self.part_names if has_word(fact.text, [name])]
        return max(held, key=len, default="")

    @cached_property
    def part_names(self) -> set[str]:
        return {s.part for s in self.steps} | {p.name for p in self.episode.parts}

    def _named(self, thing) -> Line:
        first = [self.moment(thing.at[0][0])] if thing.at else []
        return Line(name=clean(thing.name), moments=first, doubtful=self.doubtful(thing))

    def _fact_line(self, fact: Fact) -> Line:
        return Line(name=clean(self.part_of(fact)), text=_with_value(fact), moments=[self.moment(fact.start)], doubtful=self.doubtful(fact))

    def _sisters(self) -> list[Line]:
        rows = [r for r in self.episode.reels if r.role == "same_service"]
        return [Line(name=reel_name(r), moments=[self.moment(r.at[0][0])] if r.at else [], doubtful=self.doubtful(r)) for r in rows]

    def _signs(self) -> list[Line]:
        """What makes the job harder than it looks, each from a fact of the record."""
        rules, signs = data("service")["difficulty"], []
        for tool in self.episode.tools:
            if tool.name in self.used and has_word(tool.name, rules["special"]):
                signs.append(Line(name="Special tool", text=clean(tool.name), moments=[self.moment(tool.at[0][0])] if tool.at else []))
        for label, words in (("Spring under load", rules["spring"]), ("Small part, easily lost", rules["small"])):
            steps = {s.part: s for s in reversed(self.steps) if s.do in ("remove", "install") and has_word(s.part, words)}
            signs += [Line(name=label, text=clean(s.part), moments=[self.moment(s.start)]) for s in sorted(steps.values(), key=lambda s: s.start)]
        for fact in _distinct([f for f in self.facts if f.kind == "obsolete"]):
            signs.append(Line(name="Part no longer made", text=clean(self.part_of(fact) or fact.text), moments=[self.moment(fact.start)]))
        return signs

    def _bench_time(self) -> str:
        if not self.steps:
            return ""
        minutes = max(1, round((max(s.end for s in self.steps) - min(s.start for s in self.steps)) / 60))
        hours, rest = divmod(minutes, 60)
        return f"{hours} h {rest:02} min" if hours else f"{minutes} min"

    def _buy(self) -> list[Line]:
        rows = []
        for step in self.steps:
            if step.do == "replace" and not any(r.name == clean(step.part) for r in rows):
                rows.append(Line(name=clean(step.part), count=str(step.qty or ""), text="replaced in this service",
                                 moments=[self.moment(step.start)], doubtful=self.doubtful(step)))
        for kind, said in (("upgrade", "offered as an option"), ("obsolete", "no longer made: look for a donor reel")):
            for fact in _distinct([f for f in self.facts if f.kind == kind]):
                part = clean(self.part_of(fact))
                rows.append(Line(name=part or f"“{_said(fact.text)}”", text=said, extra=_said(fact.text) if part else "",
                                 moments=[self.moment(fact.start)], doubtful=self.doubtful(fact)))
        return rows

    def _fasteners(self) -> list[Line]:
        """One row a fastener: how many, what is said of it, and the tool that turned it."""
        rows: dict[str, Line] = {}
        endings = tuple(data("service")["fasteners"]["endings"])
        for step in self.steps:
            part = clean(step.part)
            if not part.lower().endswith(endings):
                continue
            row = rows.setdefault(part, Line(name=part, moments=[self.moment(step.start)]))
            row.count = row.count or str(step.qty or "")
            row.extra = row.extra or clean(step.tool or "")
        for fact in _distinct([f for f in self.facts if f.kind == "fastener"]):
            part = clean(self.part_of(fact))
            row = rows.setdefault(part or f"#{fact.start}", Line(name=part, moments=[]))
            row.text = "; ".join(filter(None, (row.text, _with_value(fact).rstrip("."))))
            row.moments += [m for m in [self.moment(fact.start)] if m not in row.moments]
            row.doubtful |= self.doubtful(fact)
        for part in self.episode.parts:
            if (row := rows.get(clean(part.name))) and not row.count and part.qty:
                row.count = str(part.qty)
        return list(rows.values())

    def _lubrication(self) -> list[Line]:
        rows: dict[tuple, Line] = {}
        for step in (s for s in self.steps if s.do == "lubricate"):
            key = (step.part, step.supply)
            row = rows.setdefault(key, Line(
                name=clean(step.part), extra=clean(step.supply or "not said"), text=_said(step.text) or imperative(step), doubtful=self.doubtful(step)))
            row.moments.append(self.moment(step.start))
        return list(rows.values())

    def _dry(self) -> list[Line]:
        rules = data("service")["dry"]
        without = re.compile(rf"\b(?:{'|'.join(rules['without'])})\b[^.;,]{{0,40}}\b(?:{'|'.join(rules['lubricants'])})", re.I)
        return [self._fact_line(f) for f in _distinct([f for f in self.facts if has_word(f.text, rules["phrases"]) or without.search(f.text)])]

    def _tray(self) -> list[TrayLine]:
        def count(line) -> str:
            off, on = line.qty_off, line.qty_on
            return f"{off} off, {on} on" if off is not None and on is not None and off != on else str(off or on or 1)

        return [TrayLine(part=clean(line.part), count=count(line), status=line.status, alarm=line.status != "back on", doubtful=self.doubtful(line),
                         off=self.moment(line.off) if line.off is not None else None, on=self.moment(line.on) if line.on is not None else None)
                for line in sorted(self.episode.ledger, key=lambda l: (l.off is None, l.off or l.on or 0.0))]

    def _parts(self) -> list[PartLine]:
        """Parts of which more is to be told than that they were named and go back."""
        rows = []
        for part, whats in parts_of(self.episode, self.settings):
            count, number = whats.pop("quantity"), whats.pop("part number")
            lines = [Line(name=what, text=_said(said)) for what, said in whats.items() if said and said != "goes back"]
            if number or lines:
                rows.append(PartLine(name=clean(part.name), count=count, number=number, lines=lines, doubtful=self.doubtful(part),
                                     moments=[self.moment(start) for start, _ in part.at[:3]]))
        return rows

    def _topics(self) -> list[Topic]:
        """What is told of the reel and stands neither at a step nor in the list of parts."""
        listed = " ".join(_key(line.text) for part in self._parts() for line in part.lines)
        titles = {"condition": "What this reel showed", "interchange": "Fits other models", "dating": "How old it is", "part_number": "Part numbers",
                  "measure": "Sizes, weights, ratios", "setting": "Settings", "caution": "Warnings in passing", "unsure": "Not certain"}
        shown = {id(f) for f in self._general_warnings()}
        topics = []
        for kind, title in titles.items():
            facts = [f for f in (self.facts if kind == "part_number" else self.homeless) if f.kind == kind and id(f) not in shown and (kind == "part_number" or _key(f.text) not in listed)]
            if kind in ("setting", "caution"):
                facts = [f for f in facts if not self.doubtful(f)]  # at no step and not sure: it tells nobody what to do
            lines = [self._fact_line(f) for f in _distinct(facts)]
            if lines:
                topics.append(Topic(title=title, lines=lines))
        return topics


def _other_sides(episode: Episode, steps: list[Step]) -> list[Step]:
    """What "same again on the other side" stands for, spelled out: the step just told, once more, there."""
    words = {name: "|".join(map(re.escape, listed)) for name, listed in data("service")["other_side"].items()}
    there = rf"\b(?:{words['other']}) (?P<place>{words['place']})\b"
    told = re.compile(rf"\b(?:{words['again']})\b[^.?]{{0,25}}{there}|{there.replace('P<place>', 'P<where>')}[^.?]{{0,20}}\b(?:{words['again']})\b", re.I)
    spoken_of, found = {i for s in steps for i in s.sentences}, []
    for said in episode.sentences:
        match = told.search(said.text)
        if not match or said.id in spoken_of or re.search(rf"\b(?:{words['unless']})\b", said.text, re.I):
            continue
        before = [s for s in steps if -1.0 <= said.start - s.end <= 20.0]
        if before:
            last = max(before, key=lambda s: (s.start, s.end))
            text = f"{imperative(last).rstrip('.')}, on the other {match['place'] or match['where']}."
            sure = last.confidence if len(said.text.split()) < 10 else min(last.confidence, 0.5)  # a long sentence may mean something else
            found.append(last.model_copy(update={"id": f"{last.id}-{said.id}", "start": said.start, "end": said.end, "text": text, "sentences": [said.id],
                                                 "still": None, "confidence": sure}))
    return found


def _is_one_of(part: str, names: list[str]) -> bool:
    part = part.lower().strip()
    return any(part == name or part.endswith(" " + name) for name in names)


def _same_part(a: str, b: str) -> bool:
    a, b = a.lower().strip(), b.lower().strip()
    return bool(a and b) and (a == b or a.endswith(" " + b) or b.endswith(" " + a))


def _says_again(one: Step, other: Step) -> bool:
    def agree(a, b):
        return a is None or b is None or a == b

    if "on the other" in one.text + other.text:
        return one.text == other.text
    return (one.do, one.part) == (other.do, other.part) and all(
        agree(getattr(one, field), getattr(other, field)) for field in ("qty", "tool", "supply"))


def _distance(fact: Fact, step: Step) -> float:
    return max(0.0, fact.start - step.end, step.start - fact.end)


def _distinct(rows: list) -> list:
    """Without those that say the same words again; the first stays."""
    seen: dict[str, object] = {}
    for row in rows:
        seen.setdefault(_key(row.text), row)
    return list(seen.values())


def _key(text: str) -> str:
    """The same for the same words."""
    return re.sub(r"\W+", " ", clean(text).lower()).strip()


def _says(longer: str, key: str) -> bool:
    """Do the longer words hold these, give or take a small one?"""
    from rapidfuzz import fuzz

    return len(key) <= len(longer) + 8 and fuzz.partial_ratio(key, longer) >= 90


def _with_value(fact: Fact) -> str:
    value = _unsaid_value(fact)
    return f"{_said(fact.text)} ({value})" if value else _said(fact.text)


def _unsaid_value(fact: Fact) -> str:
    value = clean(fact.value or "")
    return value if value not in fact.text else ""


def _unsaid(name: str | None, text: str) -> str | None:
    """A tool or supply that the step's text does not name already."""
    return clean(name) if name and clean(name).lower() not in text.lower() else None


def _said(text: str) -> str:
    """Words for one place of the guide, bounded so that no text can push the rest off its page."""
    return shorten(clean(text), _MOST_SAID)


def reel_name(reel) -> str:
    return clean(f"{reel.maker or ''} {reel.model}")
