"""Chapter titles: what is done to what, in the trade's words, from what is said, done and found in the chapter."""

import re
from collections import Counter
from collections.abc import Iterator
from functools import cached_property

from ..reading.findings import Findings, Mention
from ..record import Chapter, Reel, Sentence, Step
from ..trade import Term, Trade, data
from ..trade.names import plural

DOES = {
    "disassembly": {"remove", "loosen", "set aside"}, "reassembly": {"install", "tighten", "align"}, "cleaning": {"clean", "degrease", "dry"},
    "lubrication": {"lubricate"}, "inspection": {"inspect", "measure", "test"}, "repair": {"replace", "repair", "install"},
    "adjustment": {"adjust", "align", "tighten"}, "testing": {"test", "measure", "adjust"},
}
MANY = 7  # parts moved in one chapter, from which on three of them would tell too little
ELSEWHERE = {"past", "hypothetical", "elsewhere"}  # what is only spoken of is not what a chapter is about


def name_chapters(chapters: list[Chapter], sentences: list[Sentence], findings: Findings, trade: Trade) -> list[Chapter]:
    """The same chapters with titles, no two alike, in sentence case."""
    views = [_View(chapter, sentences, findings, trade) for chapter in chapters]
    in_chapters = Counter(part for view in views for part in view.named)
    named, used = [], set()
    for view in views:
        view.rarity = {part: len(chapters) / count for part, count in in_chapters.items()}
        title = next(t for t in _ways(view) if t not in used)
        used.add(title)
        named.append(view.chapter.model_copy(update={"title": title}))
    return named


class _View:
    """One chapter with what was found in it."""

    def __init__(self, chapter: Chapter, sentences: list[Sentence], findings: Findings, trade: Trade):
        self.chapter, self.phase = chapter, chapter.phase
        inside = set(chapter.sentences)
        self.talk = " ".join(s.text for s in sentences).lower()
        own = [s.text.lower() for s in sentences if s.id in inside]
        self.text = " ".join(own)
        self.advised = " ".join(t for t in own if not re.search(r"\b(?:no|not|don't|never|nothing|without|isn't|won't)\b", t))  # what is not only warned of
        self.steps = [s for s in findings.steps if inside & set(s.sentences) and not s.undone]
        self.facts = [f for f in findings.facts if inside & set(f.sentences)]
        self.reels = findings.reels
        self.elsewhere = [r for r in findings.reels if r.role == "mentioned" and inside & set(r.sentences)]
        terms = {t.name: t for t in trade.terms if t.group == "part"}
        self.assembly = {name: t.assembly for name, t in terms.items() if t.assembly}
        # a name that stands in no list may have been misheard: it is shown in lists with its doubt, not in a title
        self.named, self.wordings, self.bare = Counter(), {}, {}
        for m in findings.mentions:
            if m.group == "part" and m.name in terms and m.sentence in inside and not ELSEWHERE & set(m.context):
                self.named[m.name] += m.confidence
                self.wordings.setdefault(m.name, Counter()).update(_wording(m.surface, terms[m.name]))
                word = m.surface.lower().removesuffix("'s")
                if word and " " not in word:
                    self.bare.setdefault(m.name, Counter())[_last(m.name) if word == plural(_last(m.name)) else word] += 1
        worked = [(s, s.part if s.part in terms else self._meant(s, findings.mentions, terms)) for s in self.steps]
        worked = [(s, part) for s, part in worked if part]
        self.worked = [(s, part) for s, part in worked if s.do in DOES.get(self.phase, ())] or worked
        self.done, self.worded = Counter(), {}
        for s, part in self.worked:
            self.done[part] += s.confidence
            if (words := s.part.split())[:-1] == [] or _wording(s.part, terms[part]) or words[0] in data("titles")["places"] and len(words) == 2:
                self.worded.setdefault(part, Counter())[s.part] += s.confidence
        self.many = {s.part for s in self.steps if (s.qty or 1) > 1} | {m.name for m in findings.mentions if m.sentence in inside and (m.qty or 1) > 1}
        self.rarity: dict[str, float] = {}

    @staticmethod
    def _meant(step: Step, mentions: list[Mention], terms: dict[str, Term]) -> str | None:
        """The part that a step's own words stand for ("the worm"), where something is called so in its sentences, or else in the talk."""
        said = {_plain(step.part), _plain(plural(step.part))} if step.part else set()
        called = [m for m in mentions if m.group == "part" and m.name in terms and _plain(m.surface) in said]
        meant = Counter(m.name for m in [m for m in called if m.sentence in step.sentences] or called)
        return meant.most_common(1)[0][0] if meant else None

    @cached_property
    def parts(self) -> list[str]:
        """What the chapter is about, most telling first: what is worked on, what is named often here and seldom elsewhere, large before small."""
        about = self.done.keys() | {f.part for f in self.facts if f.kind == "condition" and f.part in self.named}
        ranked = sorted(about if self.done and self.phase != "repair" else self.done.keys() | self.named.keys(), key=lambda p: (-self.tells(p), p))
        least = max(1.0, 0.4 * self.tells(ranked[0])) if ranked else 0.0
        return [p for p in ranked if self.tells(p) >= least]

    @property
    def moved(self) -> list[str]:
        """What is taken off or put back, most telling first; small stuff only where nothing larger is."""
        ranked = sorted(self.done, key=lambda p: (-self.tells(p), p))
        return [p for p in ranked if not self.small(p)] or [p for p in ranked if self.done[p] + self.named[p] >= 2]

    def small(self, part: str) -> bool:
        known, name = data("titles"), self.called(part)
        return _last(name) in known["small"] and not part.endswith(tuple(known["not_small"]))

    def tells(self, part: str) -> float:
        weight = 2.0 * min(2.0, self.done[part]) + min(3.0, self.named[part]) * min(3.0, self.rarity.get(part, 1.0)) ** 0.5
        return weight * (0.3 if self.small(part) else 1.0)

    def called(self, part: str) -> str:
        """What the host calls it here, where that alone says which part it is."""
        if own := [w for w in self.worded.get(part, ()) if w != part]:
            return max(own, key=lambda w: (w not in _loose(), self.worded[part][w]))  # a bare word stays bare: which plate it was may be a guess
        if wordings := self.wordings.get(part):
            return wordings.most_common(1)[0][0]
        # only bare words here: which bearing it was may be a guess, unless the steps say so, and then the rest of the talk too
        sure = part in self.worded.get(part, ()) and _plain(" ".join(part.split()[:-1])) in _plain(self.talk)
        return part if sure else self.bare[part].most_common(1)[0][0] if part in self.bare else _last(part)

    def inner(self, part: str) -> bool:
        """Whether it comes out of the reel, not off it."""
        before = data("titles")["before"].get(_last(part))
        return _last(part) in data("titles")["inner"] and not (before and re.search(rf"\b{before}", self.talk))

    def row(self, parts: list[str]) -> str:
        """"handle, star and spool", in the order in which they come up."""
        order = {p: self.text.find(_last(self.called(p))) for p in parts}
        parts = sorted(parts, key=lambda p: (order[p] < 0, order[p]))
        names = list(dict.fromkeys(map(self.counted, parts)))
        return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]

    def counted(self, part: str) -> str:
        """Its name, as one or many as the host speaks of them here."""
        name = self.called(part)
        many, one = (len(re.findall(rf"\b{re.escape(word)}\b", self.text)) for word in (plural(name), name))
        return plural(name) if many and (part in self.many or many > one) else name

    def topics(self, kind: str) -> list[str]:
        """The topics of a list in titles.toml that are spoken of, most first."""
        said = {row["name"]: sum(len(re.findall(rf"\b{re.escape(c)}", self.text)) for c in row["say"]) for row in data("titles")[kind]}
        return sorted((n for n, count in said.items() if count), key=lambda n: -said[n])


def _ways(view: _View) -> Iterator[str]:
    """Titles for this chapter, the best first; they never run out."""
    known, phase = data("titles"), view.phase
    for title in _telling(view, known["wording"]):
        if title:
            yield title[:1].upper() + title[1:]
    yield from known["plain"][phase]
    number = 2
    while True:
        yield known["wording"]["again"].format(title=known["plain"][phase][0], number=number)
        number += 1


def _telling(view: _View, say: dict[str, str]) -> Iterator[str | None]:
    """Titles that say something of this very chapter."""
    phase, parts = view.phase, view.parts
    if phase == "inspection" and view.worked and all(s.do in DOES["cleaning"] for s, _ in view.worked):
        phase = "cleaning"
    if phase == "introduction":
        yield say["introduction_fault"] if any(f.kind == "condition" for f in view.facts) else None
    elif phase == "identification":
        family = next((_family(r) for r in view.reels if r.role == "on_bench"), None)
        dated = any(f.kind == "dating" for f in view.facts)
        yield say["identification_dated" if dated else "identification"].format(family=family) if family else None
    elif phase == "aside":
        kin = re.search(r"\b(?:my|had an?) ((?:%s)(?:[ -]in[ -]law)?)\b" % "|".join(data("titles")["kin"]), view.text)
        reel = view.elsewhere[0].model if view.elsewhere else None
        who = kin.group(1).replace(" in law", "-in-law") if kin else None
        yield say["aside_kin_reel"].format(who=who, reel=reel) if who and reel else say["aside_reel"].format(reel=reel) if reel else None
        yield say["aside_kin"].format(who=who) if who else None
    elif phase == "closing":
        yield say["closing_care"] if view.topics("care") else None
    elif phase in ("disassembly", "reassembly"):
        yield from _moved(view, say)
    elif phase == "lubrication":
        yield _lubricated(view, say)
        both = [w for w in ("oil", "grease") if re.search(rf"\b{w}", view.advised) or len(re.findall(rf"\b{w}", view.text)) > 1] or ["oil", "grease"]
        yield from (say["lubrication_with"].format(supply=" and ".join(both), what=view.row(parts[:n])) for n in (2, 1) if len(parts) >= n)
    elif phase in ("adjustment", "testing"):
        topics = sorted(view.topics(phase)[:2], key=lambda t: not t.startswith("the "))
        yield say[phase].format(what=" and ".join(topics)) if topics else None
        yield from (say[phase].format(what="the " + view.row([p])) for p in parts[:3] if view.done[p])
    elif phase == "inspection":
        trouble = Counter(f.part for f in view.facts if f.kind == "condition" and f.part in parts and _trouble(f.text))
        worst = sorted(trouble, key=lambda p: (-trouble[p], -view.named[p]))[:2]
        yield from (say["inspection_worn"].format(what=view.row(worst[:n])) for n in (2, 1) if len(worst) >= n)
        yield from (say["inspection"].format(what=view.row(parts[:n])) for n in (2, 1) if len(parts) >= n)
    elif phase == "repair":
        fresh = {s.part for s in view.steps if s.do == "replace"} | {f.part for f in view.facts if f.kind == "upgrade"}
        new = [p for p in parts if p in fresh or re.search(rf"\bnew (?:[a-z-]+ ){{0,2}}?{re.escape(_last(p))}", view.text)]
        yield from (say["repair_new"].format(what=view.row([_old(p)])) for p in new[:2])
        # what is merely put back meanwhile is not what was mended
        mended = {part for s, part in view.worked if s.do in ("repair", "replace")} | {f.part for f in view.facts if f.kind == "condition"}
        yield from (say["repair"].format(what=view.row([p])) for p in [p for p in parts if p in mended][:2])
    elif phase == "cleaning":
        yield from (say["cleaning"].format(what=view.row(parts[:n])) for n in (2, 1) if len(parts) >= n)


def _moved(view: _View, say: dict[str, str]) -> Iterator[str | None]:
    """What comes off or goes back: a few parts by name, many of one assembly by the assembly's."""
    names, phase = data("titles")["assembly"], view.phase
    parts = view.moved if view.done else view.parts
    moved = [p for p in view.done.keys() | view.named.keys() if view.done[p] + view.named[p] >= 1]
    shares = Counter(names[view.assembly[p]] for p in moved if view.assembly.get(p) in names)
    top, count = shares.most_common(1)[0] if shares else ("", 0)
    worked = sum(names.get(view.assembly.get(p)) == top for p in view.done)
    if count >= 3 and worked >= 2 and count >= 0.6 * len(moved):
        yield say[f"{phase}_assembly"].format(what=top)
    in_order = list(dict.fromkeys(part for _, part in view.worked if part in parts))
    ends = [part for part in in_order if view.called(part) not in _loose()]
    if len(in_order) >= MANY and len(ends) > 1:
        yield say[f"{phase}_many"].format(first=view.counted(ends[0]), last=view.counted(ends[-1]))
    first = in_order[0] if in_order else None
    begun = [first, *parts[:2]] if first and first not in parts[:3] else parts[:3]  # a chapter is looked for by what is seen first
    for chosen in (begun, parts[:2], parts[1:3], parts[:1]):
        if chosen:
            inner = sum(view.inner(p) for p in chosen) * 2 > len(chosen)
            yield say[f"{phase}_{'inner' if inner else 'outer'}"].format(what=view.row(chosen))
    if worked:
        yield say[f"{phase}_assembly"].format(what=top)


def _lubricated(view: _View, say: dict[str, str]) -> str | None:
    """"Oil for the bearings, grease for the gears"."""
    uses: dict[str, dict[str, None]] = {}
    for s, part in view.worked:
        if s.do == "lubricate" and s.supply:
            uses.setdefault(_last(s.supply), {})[part] = None
    if not uses or len(uses) == 1 and {"oil", "grease"} <= set(re.findall(r"[a-z]+", view.text)):
        return None  # half of it would mislead
    pairs = [say["lubrication_with"].format(supply=supply, what=view.row([max(parts, key=view.tells)])) for supply, parts in uses.items()]
    return ", ".join(pairs[:2])


def _trouble(text: str) -> bool:
    """Whether a fault is told, and not that there is none: "not one of them chipped"."""
    words = "|".join(map(re.escape, data("titles")["trouble"]))
    none = re.compile(r"\b(?:no|not|none|isn't|aren't|never|without|nothing)\b")
    return any(not none.search(re.split(r"[,.;]", text.lower()[:m.start()])[-1]) for m in re.finditer(rf"\b(?:{words})", text.lower()))


def _wording(surface: str, term: Term) -> list[str]:
    """The wording as one of the term's own names, unless it is a word for many things ("the nut")."""
    said = _plain(surface)
    return [n for n in term.names if said in (_plain(n), _plain(plural(n))) and (" " in n or n not in _loose())]


def _loose() -> list[str]:
    """Words for many things."""
    return data("parts")["heads"] + data("parts")["loose"]


def _family(reel: Reel) -> str:
    """A model's name without its number: "Dunnock" of "Dunnock 30"; the whole where it is all number."""
    return re.sub(r"\s+[\dA-Z/-]*\d[\w/-]*$", "", reel.model) or reel.model


def _plain(name: str) -> str:
    return name.lower().replace("-", " ")


def _last(name: str) -> str:
    return name.split()[-1]


def _old(name: str) -> str:
    return name.removeprefix("new ")
