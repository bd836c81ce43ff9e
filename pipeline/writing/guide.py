"""The service guide as a view-model: the record put in order of service. The screen and the print template only lay it out."""

import re
from bisect import bisect_right
from functools import cached_property

from pydantic import BaseModel

from ..record import Chapter, Episode, Fact, Part, Step
from ..trade import data
from ..trade.wording import worded
from .calling import Calling
from .cautions import SIGNALS, Signal, hazards_of, has_word, may_warn, signal_of, warns, worn_for
from .holding import turned_round
from .ledger import EVEN
from .lists import parts_of, tells
from .plain import clean, clock, moment_link, shorten, web_address
from .settings import WritingSettings
from .stills import Still

_TAKES_OFF = ("remove", "loosen", "set aside", "mark")
_LOOKS = ("inspect", "test", "measure")
_CARE = ("lubricate", "clean", "degrease", "dry", "loosen", "adjust", "set aside", *_LOOKS)  # what a host still does or tells as he closes
_ONCE_IS_ENOUGH = ("inspect", "test", "measure", "clean", "degrease", "dry", "lubricate")  # said twice, done once
_MOST_SAID = 600  # characters
_NEAR = 60.0  # seconds: how far from a step a fact about its part may be said and still be about that step
_NOW = 20.0  # the same for what is about the doing, not about the part: how tight, how far, how much
_MOST_GENERAL = 6  # warnings on the first page
_FEW_WORDS = 8  # a quote as short as this that names no thing needs the sentence before it
_SHARED = 5  # words that two quotes share where one goes on from the other
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
    wear: list[str]
    tools: list[Line]
    supplies: list[Line]
    also_named: list[Line]  # tools and supplies that no step uses
    buy: list[Line]
    at_hand: bool  # are tools or supplies used that need not be bought
    procedures: list[Procedure]
    fasteners: list[Line]
    lubrication: list[Line]
    dry: list[Line]
    orientation: list[Line]
    tray: list[TrayLine]
    fitted: list[TrayLine]  # went on, and was never shown coming off
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
        self.calling = Calling(episode)
        shown = [self._in_one_word(s) for s in episode.steps if not s.undone]
        self.steps = sorted(shown + _other_sides(episode, shown), key=lambda s: (s.start, s.end))
        self.facts = sorted((f for f in episode.facts if f.confidence >= settings.leave_out_below and tells(f)), key=lambda f: (f.start, f.end))
        self.wear = dict.fromkeys(row["wear"] for row in data("cautions")["wear"] for s in episode.steps if not s.undone and clean(s.tool or "").lower() in row["words"])

    # --- small things

    def moment(self, seconds: float) -> Moment:
        return Moment(seconds=seconds, clock=clock(seconds), link=moment_link(self.episode.url, seconds, self.settings.time_parameter))

    def _in_one_word(self, step: Step) -> Step:
        """The step with the one word that the guide has for its part; what is worn turns no screw. A text of the host's own stays."""
        told = step.model_copy(update={"part": self.calling.same(step.part), "tool": None if _worn(step.tool) else step.tool})
        return told.model_copy(update={"text": worded(told)}) if step.text == worded(step) else told

    def doubtful(self, finding) -> bool:
        return finding.confidence < self.settings.check_below

    def taken_off_before(self, step: Step) -> bool:
        return any(s.do == "remove" and s.start < step.start and _same_part(s.part, step.part) for s in self.steps)

    def out_of_turn(self, step: Step) -> bool:
        """A part put on before the rebuild that nobody took off: likelier misheard than done."""
        return step.do == "install" and step.start < self.rebuild_begins and not self.taken_off_before(step)

    def phase(self, step: Step) -> str | None:
        return step.phase or self.chapter_phase(step)

    def chapter(self, finding: Step | Fact):
        chapters, starts = self._chapters
        before = bisect_right(starts, finding.start + 0.01)
        return chapters[before - 1] if before else None

    @cached_property
    def _chapters(self) -> tuple[list[Chapter], list[float]]:
        chapters = sorted({c.start: c for c in reversed(self.episode.chapters)}.values(), key=lambda c: c.start)  # of two that start together the first
        return chapters, [c.start for c in chapters]

    def chapter_phase(self, finding: Step | Fact) -> str | None:
        chapter = self.chapter(finding)
        return chapter.phase if chapter else None

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
    def last_fitting(self) -> float:
        """When the last piece is fitted that was not on before: what is opened again for a test does not count."""
        first: dict[str, float] = {}
        for step in self.steps:
            if step.do == "install" and step.start >= self.rebuild_begins:
                first.setdefault(_key(step.part), step.start)
        return max(self.rebuild_begins, *first.values()) if first else self.rebuild_begins

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
        return has_word(step.supply or self._talk(step), data("service")["opening"]["freeing"]) and any(
            s.do in ("remove", "loosen") and s.start >= step.start and _same_part(s.part, step.part) for s in self.steps)

    def procedure_of(self, step: Step) -> str:
        phase = self.phase(step)
        if step.start >= self.rebuild_begins and self.chapter_phase(step) == "closing" and step.do in _CARE:
            return "care"
        # a test between two fittings stands between them: what it would tell is covered up after
        if step.start > self.last_fitting and self.chapter_phase(step) in ("testing", "adjustment") or (
                step.start > self.last_install and (phase == "testing" or step.do in (*_LOOKS, "adjust"))):
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
    def behind(self) -> dict[str, Step]:
        """Steps that are told out of their turn: what holds them comes off before, and goes on after."""
        return {id: holder for id, holder in turned_round([s for s in self.steps if not self.doubtful(s)], self.calling.plain).items()
                if self.procedure_of(holder) in ("open up", "strip", "rebuild")}

    def turn(self, step: Step) -> tuple:
        """What the steps of a procedure are sorted by: when they are told, but for those that are told out of their turn."""
        holder = self.behind.get(step.id, step)
        return holder.start, holder.end, 0 if holder is step else 1 if step.do == "remove" else -1, step.start

    @cached_property
    def ordered(self) -> list[tuple[dict, list[list[Step]]]]:
        """The procedures with their steps; steps that say the same thing again stand together in one inner list."""
        rows = []
        for procedure in data("service")["procedure"]:
            merged: list[list[Step]] = []
            for step in sorted((s for s in self.steps if self.procedure_of(self.behind.get(s.id, s)) == procedure["id"]), key=self.turn):
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
        otherwise = {_key(f.text) for f in self.facts if f.kind in _NOTES and f.kind != "caution"}
        for fact in self.facts:
            if fact.kind not in _NOTES or fact.kind == "caution" and not (warns(fact) or may_warn(fact) and _key(fact.text) not in otherwise):
                continue
            near = self._oiling(fact) or [s for s in self.steps if self._about(fact, s)]
            homes = [min(near, key=lambda s: self._farness(fact, s))] if near else []
            if self._needed_again(fact) and not any(s.do in ("install", "align") for s in homes):
                fitting = [s for s in self.steps if s.do in ("install", "align") and s.start >= fact.start and _same_part(s.part, self.part_of(fact))]
                # "the screws" that are as many as came off are these screws
                fitting = ([s for s in fitting if s.qty and any(s.qty == home.qty for home in homes)] or fitting)[:1]
                # seen as it came off, it is said twice; told while it goes back, once
                homes = fitting + [s for s in homes if s.start < self.rebuild_begins or not fitting]
            for home in homes:
                at.setdefault(home.id, []).append(fact)
        return at

    def _oiling(self, fact: Fact) -> list[Step]:
        """A warning about a lubricant on a part belongs where that part is lubricated, however much later that is."""
        if fact.kind != "caution" or not has_word(fact.text, data("service")["dry"]["lubricants"]):
            return []
        return [s for s in self.steps if s.do == "lubricate" and s.start >= fact.start - _NEAR and _same_part(self.part_of(fact), s.part)][:1]

    def _about(self, fact: Fact, step: Step) -> bool:
        if set(fact.sentences) & set(step.sentences) or (step.start <= fact.start and fact.end <= step.end):
            return True  # said in one breath
        told, done = ("talk" if phase in ("introduction", "identification") else phase for phase in (self.chapter_phase(fact), self.chapter_phase(step)))
        if told != done and {"talk", "closing"} & {told, done}:
            return False  # which reel it is, and how to look after it, are about no step of the work
        if fact.kind == "caution" and self.stays_dry.search(fact.text) and self.part_of(fact) and not has_word(step.supply, re.findall(r"\w+", fact.text)) and not (
                step.do in ("lubricate", "install", "clean", "degrease") and _same_part(self.part_of(fact), step.part)):
            return False  # no grease on the leather: nothing to do with the next piece in the hand, nor with its coming off
        if fact.kind == "caution" and (-2.0 <= step.start - fact.end <= 20.0 or 0.0 <= fact.start - step.end <= 6.0):
            return True  # a warning is about what the hands do next, or have just begun
        if _distance(fact, step) > _NEAR:
            return False
        if fact.kind in ("setting", "measure") and step.do in (*_LOOKS, "adjust") and self.chapter(fact) is self.chapter(step) and _distance(fact, step) <= _NOW / 2:
            return True  # what the trial is to show, whichever part it names
        if part := self.part_of(fact):
            return _same_part(part, step.part)
        return fact.kind in ("orientation", "setting") and 0.0 <= fact.start - step.start <= 15.0

    def _needed_again(self, fact: Fact) -> bool:
        """What is seen as a piece comes off and must be known as it goes back: which way round, which one where."""
        return fact.kind == "orientation" or fact.kind == "fastener" and has_word(fact.text, data("service")["fasteners"]["apart"])

    def _farness(self, fact: Fact, step: Step) -> tuple:
        """How far a fact is from a step that it may be about; one of its own part is nearer by some seconds."""
        named = has_word(fact.text, self.names_of(self.part_of(fact)))
        own = 8.0 if fact.kind == "caution" or not named else _NOW if fact.kind in ("setting", "measure") else _NEAR
        other = _NOW if self.chapter(fact) is not self.chapter(step) else 0.0
        return (not set(fact.sentences) & set(step.sentences), _distance(fact, step) + other - (own if _same_part(self.part_of(fact), step.part) else 0.0))

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
            warned -= {row["id"] for row in data("cautions")["hazard"] if row["signal"] in ("DANGER", "WARNING")}
            procedures.append(Procedure(id=procedure["id"].replace(" ", "-"), title=procedure["title"], lead=procedure["lead"], steps=steps))
        return procedures

    def _step(self, number: int, same: list[Step], warned: set[str], quoted: str) -> GuideStep:
        full = max(same, key=lambda s: (s.qty is not None, s.tool is not None, s.supply is not None, s.confidence))
        facts = [f for s in same for f in self.facts_at.get(s.id, [])]
        text = _said(full.text) or _said(worded(full))
        doubtful = all(self.doubtful(s) or self.out_of_turn(s) for s in same)
        said = [f for f in facts if f.kind == "caution" and warns(f)]
        hazards = [row for row in hazards_of(full) if row["id"] not in warned]  # once, and a grave one in every procedure
        warned |= {row["id"] for row in hazards}
        self.wear |= dict.fromkeys([*(name for row in hazards for name in row.get("wear", [])), *worn_for(said)])
        quote = self._talk(full) if doubtful else ""
        if any(_says(_key(f.text), _key(quote)) for f in said):
            quote = ""  # it stands in the sign already
        # what the host chose goes before what the program found; "none" for a step is none for all that say it again
        pictures = sorted((s for s in same if s.id in self.stills), key=lambda s: s.still is None)
        still = self.stills[pictures[0].id] if pictures and not any(s.still == "none" for s in same) else None
        return GuideStep(
            id=f"step-{number}", number=number, text=text,
            tool=_unsaid(full.tool, text), supply=_unsaid(full.supply, text),
            moments=_in_time([self.moment(s.start) for s in same]),
            notes=self._notes([f for f in facts if f not in said], {_key(f.text) for f in said} | ({_key(quote)} if quote else set()), quote),
            cautions=self._signed(said, hazards), doubtful=doubtful, quote=quote if quote != quoted else "",
            still=still.name if still else None,
            alt=f"The bench at {clock(still.moment)}: {text}" if still else "")

    def _talk(self, step: Step) -> str:
        return _said(" ".join(self.sentences[i].text for i in step.sentences if i in self.sentences))

    @cached_property
    def sentences(self) -> dict:
        return {s.id: s for s in self.episode.sentences}

    def quoted(self, fact: Fact) -> str:
        """The host's words; few words that name nothing ("don't push it out") come with the sentence before them."""
        told = clean(fact.text)
        if len(told.split()) <= _FEW_WORDS and not has_word(told, self.things) and fact.sentences and fact.sentences[0] in self.sentences:
            ids = list(self.sentences)
            at = ids.index(fact.sentences[0])
            before = self.sentences[ids[at - 1]] if at else None
            if before and before.end > fact.start - 4.0 and len(before.text.split()) <= 25:
                told = f"{clean(before.text)} {told}"
        return _said(told)

    @cached_property
    def things(self) -> list[str]:
        """Whatever the episode has a name for."""
        named = [n for t in (*self.episode.parts, *self.episode.tools, *self.episode.supplies) for n in (t.name, *t.names)]
        return sorted({clean(n).lower() for n in (*named, *(s.part for s in self.steps)) if n.strip()})

    def _notes(self, facts: list[Fact], shown: set[str], quote: str) -> list[Note]:
        """One note for what is said once, under all that it tells of; nothing that stands at the step already."""
        notes: dict[str, Note] = {}
        for fact in facts:
            key, label = _key(fact.text), _NOTES[fact.kind]
            if key in self.signed or any(_says(one, key) for one in shown):
                continue
            if fact.kind == "caution" and not has_word(fact.text, data("cautions")["said"]["words"]):
                label = "Said"
            doubtful = self.doubtful(fact) or fact.kind == "caution"
            told = self.quoted(fact)
            if quote and told.startswith(quote) and told != quote:
                told = told[len(quote):].strip()  # the sentence before stands right above
            again = next((k for k in notes if _joined(notes[k].text, told)), None)
            if again is not None:
                notes[again].text = _said(_joined(notes[again].text, told))
                notes[again].value = notes[again].value or _unsaid_value(fact)
            note = notes.setdefault(key if again is None else again, Note(
                label=label, text=told, value=_unsaid_value(fact), moment=self.moment(fact.start), doubtful=doubtful))
            if label.lower() not in note.label.lower().split(", "):
                note.label += f", {label.lower()}"
            note.doubtful &= doubtful
        return list(notes.values())

    @cached_property
    def signed(self) -> set[str]:
        """The words that stand in a sign, wherever that is: no note says them again."""
        return {_key(f.text) for f in self.facts if f.kind == "caution" and warns(f)}

    def _signed(self, said: list[Fact], hazards: list[dict] = ()) -> list[Caution]:
        """One sign for each signal word, gravest first, the host's own words before the trade's."""
        lines: dict[Signal, list[Warned]] = {}
        for fact in _distinct(said):
            lines.setdefault(signal_of(fact), []).append(Warned(text=self.quoted(fact), moment=self.moment(fact.start)))
        for row in hazards:
            lines.setdefault(row["signal"], []).append(Warned(text=row["text"]))
        return [Caution(signal=signal, lines=lines[signal]) for signal in SIGNALS if signal in lines]

    @cached_property
    def guide(self) -> Guide:
        episode, procedures, tray = self.episode, self.procedures, self._tray()
        on_bench = [reel_name(r) for r in episode.reels if r.role == "on_bench"]
        doubtful = sum(s.doubtful for p in procedures for s in p.steps)
        return Guide(
            title=clean(episode.title) or "Reel service", reel=", ".join(dict.fromkeys(on_bench)), language=self.settings.language,
            standing=data("cautions")["standing"], url=web_address(episode.url),
            sisters=self._sisters(), signs=self._signs(), bench_time=self._bench_time(),
            cautions=self._signed(self._general_warnings()),
            wear=list(self.wear),
            tools=[self._named(t) for t in episode.tools if self.is_used(t)],
            supplies=[self._named(s) for s in episode.supplies if self.is_used(s)],
            also_named=[self._named(t) for t in (*episode.tools, *episode.supplies) if not self.is_used(t) and not _worn(t.name)],
            buy=(buy := self._buy()), at_hand=any(self.is_used(t) and _key(self.called(t)) not in {_key(row.name) for row in buy} for t in (*episode.tools, *episode.supplies)),
            procedures=procedures, fasteners=self._fasteners(), lubrication=self._lubrication(), dry=self._dry(),
            orientation=[self._fact_line(f) for f in _distinct([f for f in self.facts if f.kind == "orientation"])],
            tray=[line for line in tray if line.off], fitted=[line for line in tray if not line.off], parts=self._parts(), topics=self._topics(),
            chapters=[ChapterLine(title=clean(c.title), moment=self.moment(c.start)) for c in sorted(episode.chapters, key=lambda c: c.start)],
            step_count=sum(len(p.steps) for p in procedures), doubtful_count=doubtful)

    @cached_property
    def homeless(self) -> list[Fact]:
        """Facts that stand at no step."""
        placed = {id(f) for facts in self.facts_at.values() for f in facts}
        return [f for f in self.facts if id(f) not in placed]

    def _general_warnings(self) -> list[Fact]:
        """Warnings about the person that belong to no step and make sense by themselves; those about the reel stand at the end."""
        return [f for f in self.homeless if f.kind == "caution" and warns(f) and signal_of(f) != "NOTICE" and len(f.text.split()) > 4
                and _key(self.quoted(f)) not in self.kept_dry][:_MOST_GENERAL]

    @cached_property
    def used(self) -> set[str]:
        """Tools and supplies that a step calls for, in its words."""
        return {name.lower() for s in self.steps for name in (s.tool, s.supply) if name}

    def _names(self, thing) -> set[str]:
        """What a tool or a supply goes by alone: "alcohol" is the isopropyl alcohol where no other alcohol is listed."""
        others = {n.lower() for t in (*self.episode.tools, *self.episode.supplies) if t is not thing for n in (t.name, *t.names)}
        return {thing.name.lower()} | ({n.lower() for n in thing.names} - others)

    def is_used(self, thing) -> bool:
        return bool(self.used & self._names(thing))

    def called(self, thing) -> str:
        """A tool by the word that its steps have for it, if that tells as much: what is laid out as a "10 mm spanner" is no wrench in the work. A supply in full."""
        names = self._names(thing)
        return clean(next((s.tool for s in self.steps if s.tool and s.tool.lower() in names and len(s.tool.split()) >= len(thing.name.split())), thing.name))

    def part_of(self, fact: Fact) -> str:
        """The part that the fact is about, in the host's word: as found, else the longest part name that its text holds."""
        held = [name for name in self.part_names if not fact.part and has_word(fact.text, [name])]
        return self.calling.word(fact.part or max(held, key=len, default=""))

    @cached_property
    def part_names(self) -> set[str]:
        return {s.part for s in self.steps} | {p.name for p in self.episode.parts}

    def _named(self, thing) -> Line:
        first = [self.moment(thing.at[0][0])] if thing.at else []
        return Line(name=self.called(thing), moments=first, doubtful=self.doubtful(thing))

    def _fact_line(self, fact: Fact, named: bool = True) -> Line:
        """`named`: under the part that it is about, else that of its step; else only under one that its words name."""
        part = self.part_of(fact) or next((s.part for s in self.steps if any(f is fact for f in self.facts_at.get(s.id, []))), "")
        if not named and not has_word(fact.text, self.names_of(part)):
            part = ""
        value = _unsaid_value(fact)
        return Line(name=clean(part), text=self.quoted(fact) + (f" ({value})" if value else ""), moments=[self.moment(fact.start)], doubtful=self.doubtful(fact))

    def names_of(self, part: str) -> list[str]:
        return [part, *(n for p in self.episode.parts if part in (p.name, self.calling.word(p.name)) for n in p.names)] if part.strip() else []

    def _sisters(self) -> list[Line]:
        rows = [r for r in self.episode.reels if r.role == "same_service"]
        return [Line(name=reel_name(r), moments=[self.moment(r.at[0][0])] if r.at else [], doubtful=self.doubtful(r)) for r in rows]

    def _signs(self) -> list[Line]:
        """What makes the job harder than it looks, each from a fact of the record."""
        rules, signs = data("service")["difficulty"], []
        for tool in self.episode.tools:
            if self.is_used(tool) and has_word(tool.name, rules["special"]):
                signs.append(Line(name="Special tool", text=self.called(tool), moments=[self.moment(tool.at[0][0])] if tool.at else []))
        for label, words in (("Spring under load", rules["spring"]), ("Small part, easily lost", rules["small"])):
            steps = {s.part: s for s in reversed(self.steps) if s.do in ("remove", "install") and _is_one_of(s.part, words)}
            once = {_key(s.part): s for s in sorted(steps.values(), key=lambda s: -s.start)}
            signs += [Line(name=label, text=clean(s.part), moments=[self.moment(s.start)]) for s in sorted(once.values(), key=lambda s: s.start)]
        for fact in _distinct([f for f in self.facts if f.kind == "obsolete"]):
            signs.append(Line(name="Part no longer made", text=clean(self.part_of(fact)) or self.quoted(fact), moments=[self.moment(fact.start)]))
        return signs

    def _bench_time(self) -> str:
        if not self.steps:
            return ""
        minutes = max(1, round((max(s.end for s in self.steps) - min(s.start for s in self.steps)) / 60))
        hours, rest = divmod(minutes, 60)
        return f"{hours} h {rest:02} min" if hours else f"{minutes} min"

    def _buy(self) -> list[Line]:
        """What has to be in the house before the reel is opened: new parts, what is used up, tools that few have; then what may be bought."""
        rules, rows = data("service")["buying"], {}
        numbers = {self.calling.word(part.name): whats["part number"] for part, whats in self.told_of_parts}

        def add(name: str, text: str, at: float, doubtful: bool, count: str = "", extra: str = "") -> None:
            row = rows.setdefault(_key(name), Line(name=name, count=count, moments=[self.moment(at)], doubtful=doubtful))
            if not row.text:
                row.text = "; ".join(filter(None, (text, numbers.get(name) and f"number {numbers[name]}")))
            elif text.split(":")[0] not in row.text:
                row.text += f"; {text}"
            row.extra, row.doubtful = row.extra or extra, row.doubtful and doubtful

        for step in self.steps:
            if step.do == "replace":
                add(clean(step.part), "new in this service", step.start, self.doubtful(step), str(step.qty or ""))
        for part, start in self._bought():
            add(part, "new in this service", start, False)
        for supply in self.episode.supplies:
            if self.is_used(supply) and not _is_one_of(supply.name, rules["at_hand"]):
                parts = dict.fromkeys(clean(s.part) for s in self.steps if s.supply and s.supply.lower() in self._names(supply) and not self.doubtful(s))
                add(clean(supply.name), f"for the {_listed(list(parts))}" if parts else "", supply.at[0][0] if supply.at else 0.0, self.doubtful(supply))
        for tool in self.episode.tools:
            if self.is_used(tool) and _is_one_of(tool.name, rules["tools"]):
                add(self.called(tool), "special tool", tool.at[0][0] if tool.at else 0.0, self.doubtful(tool))
        options = {"upgrade": "offered as an option", "obsolete": "no longer made: look for a donor reel"}
        # one sentence read both ways is shown once, as the surer of the two
        told = sorted((f for f in self.facts if f.kind in options), key=lambda f: -f.confidence)
        for fact in sorted(_distinct(told), key=lambda f: (f.kind == "obsolete", f.start)):
            part, words = self.part_of(fact), f"“{self.quoted(fact)}”"
            if part or not self.doubtful(fact):
                add(part or words, options[fact.kind], fact.start, self.doubtful(fact), extra=words if part else "")
        return list(rows.values())

    def _bought(self) -> list[tuple[str, float]]:
        """Parts that the host fits new: he says so where he fits or names one, or one with a number goes on and never came off."""
        rules = data("service")["buying"]
        before, new = "".join(rf"(?<!\b{re.escape(w)} )" for w in rules["not_new"]), "|".join(map(re.escape, rules["new"]))
        found: dict[str, float] = {}
        for fact in (f for f in self.facts if f.kind in ("part_number", "upgrade") and not self.doubtful(f) and self.part_of(f)):
            names = "|".join(map(re.escape, sorted(self.names_of(self.part_of(fact)), key=len, reverse=True)))
            if re.search(rf"{before}\b(?:{new}) (?:\w+ ){{0,2}}?(?:{names})s?\b", fact.text, re.I):
                found.setdefault(self.part_of(fact), fact.start)
        for part, whats in self.told_of_parts:
            word = self.calling.word(part.name)
            fitted = [s for s in self.steps if s.do == "install" and clean(s.part) == word and not self.doubtful(s)]
            if fresh := next((s for s in fitted if s.new), None):
                found.setdefault(word, fresh.start)
            elif whats["part number"] and fitted and not any(s.do == "remove" and _same_part(s.part, word) for s in self.steps):
                found.setdefault(word, fitted[0].start)
        return list(found.items())

    def _fasteners(self) -> list[Line]:
        """One row a fastener: how many, what is said of it, and the tool that turned it."""
        rows: dict[str, Line] = {}
        endings = tuple(data("service")["fasteners"]["endings"])

        counts = {self.calling.word(p.name): p.qty for p in self.episode.parts}

        def row_of(part: str, moment: Moment) -> Line:
            same = next((row for row in rows.values() if _key(row.name) == _key(part)), None)
            return same or rows.setdefault(part, Line(name=part, moments=[moment]))

        for step in self.steps:
            if clean(step.part).lower().endswith(endings):
                # "the screws" are those that are told of as they are turned
                told = [self.part_of(f) for f in self.facts_at.get(step.id, []) if f.kind == "fastener" and _same_part(self.part_of(f), step.part)]
                told = [name for name in told if not step.qty or counts.get(name) in (None, step.qty)]
                row = row_of(max([clean(step.part), *told], key=len), self.moment(step.start))
                row.count = str(max(int(row.count or 0), step.qty or 0) or "")
                row.extra = row.extra or clean(step.tool or "")
        turned = {id(f): s.part for s in self.steps if _key(s.part).endswith(endings) for f in self.facts_at.get(s.id, [])}
        for fact in _distinct([f for f in self.facts if f.kind == "fastener"]):
            line = self._fact_line(fact)
            if not _key(line.name).endswith(endings) and id(fact) in turned:
                line.name = clean(turned[id(fact)])  # "the one by the foot is the long one" is about the screw in the hand
            if not line.name:
                continue  # of what, is not known: it stands at the end
            row, told = row_of(line.name, line.moments[0]), line.text.rstrip(".")
            if any(_says(_key(r.text), _key(told)) for r in rows.values()):
                continue
            row.text = _joined(row.text, told) or "; ".join(filter(None, (row.text, told)))
            row.moments = _in_time(row.moments + line.moments)
            row.doubtful |= line.doubtful
        for row in rows.values():
            row.count = row.count or str(counts.get(row.name) or "")
        # "plate screw" and "side plate screw" are one where nothing said of them speaks against it
        for short in [row for row in rows.values() if not row.text]:
            longer = [row for row in rows.values() if row is not short and row.name.endswith(f" {short.name}")]
            if len(longer) == 1 and (" " in short.name or short.extra and short.extra == longer[0].extra) and (not short.count or not longer[0].count or short.count == longer[0].count):
                longer[0].count, longer[0].extra = longer[0].count or short.count, longer[0].extra or short.extra
                longer[0].moments = _in_time(longer[0].moments + short.moments)
                short.count = short.extra = ""
            elif longer and " " not in short.name:  # "screw", beside screws told by name, tells nobody which: its step stands above
                short.count = short.extra = ""
        return [row for row in rows.values() if row.text or row.count or row.extra]

    def _lubrication(self) -> list[Line]:
        rows: dict[tuple, Line] = {}
        for step in (s for s in self.steps if s.do == "lubricate"):
            key = (step.part, step.supply)
            row = rows.setdefault(key, Line(
                name=clean(step.part), extra=clean(step.supply or "not named"), text=_said(step.text) or worded(step), doubtful=self.doubtful(step)))
            row.moments.append(self.moment(step.start))
        return list(rows.values())

    @cached_property
    def stays_dry(self) -> re.Pattern:
        """No lubricant, or not that one."""
        rules = data("service")["dry"]
        return re.compile(rf"\b(?:{'|'.join(rules['without'])})\b[^.;,]{{0,40}}\b(?:{'|'.join(rules['lubricants'])})", re.I)

    def _dry(self) -> list[Line]:
        rules = data("service")["dry"]
        told = [f for f in self.facts if not self.doubtful(f) and (has_word(f.text, rules["phrases"]) or self.stays_dry.search(f.text))]
        lines = [self._fact_line(f, named=False) for f in _distinct(told)]
        for line in lines:
            # "no grease in that, it slips and the handle kicks back": it is not the handle that stays dry
            about = re.split(rf"\b(?:{'|'.join(rules['lubricants'])})\b((?:\W+\w+){{0,5}})", line.text, maxsplit=1, flags=re.I)
            if len(about) > 1 and not has_word(" ".join(about[:2]), self.names_of(line.name)):
                line.name = ""
        return lines

    @cached_property
    def kept_dry(self) -> set[str]:
        return {_key(line.text) for line in self._dry()}

    def _tray(self) -> list[TrayLine]:
        def count(line) -> str:
            off, on = line.qty_off, line.qty_on
            return f"{off} off, {on} on" if off is not None and on is not None and off != on else str(off or on or 1)

        # in the order in which the steps take it off
        turns = {s.start: self.turn(s) for s in self.steps if s.do == "remove" and s.id in self.behind}

        def turn(line) -> tuple:
            return turns.get(line.off, (line.off, line.off, 0, line.off)) if line.off is not None else (line.on or 0.0,)

        return [TrayLine(part=self.calling.same(line.part), count=count(line), status=line.status, alarm=line.status not in EVEN, doubtful=self.doubtful(line),
                         off=self.moment(line.off) if line.off is not None else None, on=self.moment(line.on) if line.on is not None else None)
                for line in sorted(self.episode.ledger, key=lambda l: (l.off is None, turn(l)))]

    @cached_property
    def told_of_parts(self) -> list[tuple[Part, dict[str, str]]]:
        return parts_of(self.episode, self.settings)

    def _parts(self) -> list[PartLine]:
        """Parts of which more is to be told than that they were named and go back."""
        rows = []
        for part, whats in self.told_of_parts:
            count, number = whats["quantity"], whats["part number"]
            # what goes back, and what never does, stands in the tray
            told: dict[str, list[str]] = {}
            for what, said in whats.items():
                if said and what not in ("quantity", "part number") and said not in ("goes back", "not shown going back"):
                    told.setdefault(said, []).append(what)
            lines = [Line(name=", ".join(what), text=_said(said)) for said, what in told.items()]
            if number or lines:
                rows.append(PartLine(name=self.calling.word(part.name), count=count, number=number, lines=lines, doubtful=self.doubtful(part),
                                     moments=[self.moment(start) for start, _ in part.at[:3]]))
        return rows

    def _topics(self) -> list[Topic]:
        """What is told of the reel and stands neither at a step nor in the list of parts."""
        parts = self._parts()
        listed, numbers = " ".join(_key(line.text) for part in parts for line in part.lines), " ".join(part.number for part in parts)
        titles = {"care": "Looking after it", "caution": "Warnings about the reel", "condition": "What this reel showed", "interchange": "Fits other models", "dating": "How old it is",
                  "part_number": "Part numbers", "fastener": "Fasteners, of which it was not said", "measure": "Sizes, weights, ratios", "setting": "Settings", "unsure": "Not certain"}
        general, topics, shown = {id(f) for f in self._general_warnings()}, [], set()
        for kind, title in titles.items():
            facts = [f for f in (self.facts if kind == "part_number" else self.homeless) if self._topic_of(f) == kind and id(f) not in general]
            if kind == "part_number":
                facts = [f for f in facts if not f.value or clean(f.value) not in numbers]
            elif kind == "fastener":
                facts = [f for f in facts if not self.part_of(f)]
            facts = [f for f in _distinct(facts) if _key(f.text) not in shown and _key(self.quoted(f)) not in self.kept_dry and (kind == "part_number" or _key(f.text) not in listed)]
            shown |= {_key(f.text) for f in facts}
            lines = [self._fact_line(f, named=False) for f in facts]
            if lines:
                topics.append(Topic(title=title, lines=lines))
        return topics

    def _topic_of(self, fact: Fact) -> str:
        if fact.kind in ("caution", "setting"):
            if self.doubtful(fact) or fact.kind == "caution" and not warns(fact):
                return ""  # at no step and not sure: it tells nobody what to do
            if self.chapter_phase(fact) == "closing":
                return "care"
        if len(fact.text.split()) <= 4 and not has_word(fact.text, self.things) and (
                fact.kind == "condition" or fact.kind == "unsure" and self.quoted(fact) == _said(fact.text)):
            return ""  # "That's lovely.": of what, nobody can tell
        return fact.kind


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
            text = f"{worded(last).rstrip('.')}, on the other {match['place'] or match['where']}."
            sure = last.confidence if len(said.text.split()) < 10 else min(last.confidence, 0.5)  # a long sentence may mean something else
            found.append(last.model_copy(update={"id": f"{last.id}-{said.id}", "start": said.start, "end": said.end, "text": text, "sentences": [said.id],
                                                 "still": None, "confidence": sure}))
    return found


def _in_time(moments: list[Moment]) -> list[Moment]:
    """In order; one that is shown alike stands once."""
    return list({m.clock: m for m in sorted(moments, key=lambda m: -m.seconds)}.values())[::-1]


def _listed(names: list[str]) -> str:
    """"spool", "spool and yoke"; where there are more, the first of them."""
    return " and ".join(names) if len(names) < 3 else f"{', '.join(names[:3])}{', …' if len(names) > 3 else ''}"


def _worn(tool: str | None) -> bool:
    return any(clean(tool or "").lower() in row["words"] for row in data("cautions")["wear"])


def _is_one_of(part: str, names: list[str]) -> bool:
    """Is it one of these by its last words: "click spring" is a spring, "spring cover" is none."""
    return any(f" {_key(part)}".endswith(f" {_key(name)}") for name in names)


def _same_part(a: str, b: str) -> bool:
    a, b = _key(a), _key(b)
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


def _joined(one: str, other: str) -> str:
    """Two quotes as one where the second goes on from within the first, or holds it; else ""."""
    first, second = one.split(), other.split()
    plain = [[_key(word) for word in words] for words in (first, second)]
    for n in range(min(len(first), len(second)), _SHARED - 1, -1):
        if plain[0][-n:] == plain[1][:n]:
            return " ".join(first[:len(first) - n + 1] + second[1:])
    return other if len(first) >= _SHARED and f" {' '.join(plain[0])} " in f" {' '.join(plain[1])} " else ""


def _unsaid_value(fact: Fact) -> str:
    value, told = clean(fact.value or ""), fact.text
    if fact.kind == "measure":  # "10mm" is 10 mm
        value, told = re.sub(r"\s", "", value), re.sub(r"\s", "", told)
    return "" if value in told else clean(fact.value or "")


def _unsaid(name: str | None, text: str) -> str | None:
    """A tool or supply that the step's text does not name already."""
    return clean(name) if name and clean(name).lower() not in text.lower() else None


def _said(text: str) -> str:
    """Words for one place of the guide, bounded so that no text can push the rest off its page."""
    return shorten(clean(text), _MOST_SAID)


def reel_name(reel) -> str:
    return clean(f"{reel.maker or ''} {reel.model}")
