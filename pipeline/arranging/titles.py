"""Chapter titles: what is done to what, in the trade's words, from the steps and facts in the chapter."""

import re
from collections import Counter

from ..reading.findings import Findings
from ..record import Chapter, Reel, Step
from ..trade import data
from ..trade.names import plural

DOES = {
    "disassembly": {"remove"}, "reassembly": {"install"}, "cleaning": {"clean", "degrease"}, "lubrication": {"lubricate"},
    "inspection": {"inspect", "measure", "test", "remove"}, "repair": {"replace", "repair", "install"}, "adjustment": {"adjust", "align", "tighten"}, "testing": {"test", "measure", "adjust"},
}


def name_chapters(chapters: list[Chapter], findings: Findings) -> list[Chapter]:
    """The same chapters with titles, no two alike, in sentence case."""
    named, used = [], Counter()
    for chapter in chapters:
        title = _title(chapter, findings)
        used[title] += 1
        if used[title] > 1:
            title = data("titles")["wording"]["again"].format(title=title, number=used[title])
        named.append(chapter.model_copy(update={"title": title}))
    return named


def _title(chapter: Chapter, findings: Findings) -> str:
    known, phase, inside = data("titles"), chapter.phase, set(chapter.sentences)
    wording, plain = known["wording"], known["plain"][phase]
    steps = [s for s in findings.steps if inside & set(s.sentences) and s.do in DOES.get(phase, ()) and not s.undone]
    facts = [f for f in findings.facts if inside & set(f.sentences)]
    if phase == "introduction":
        return wording["introduction_fault"] if any(f.kind == "condition" for f in facts) else plain
    if phase == "identification":
        family = next((_family(r) for r in findings.reels if r.role == "on_bench"), None)
        if not family:
            return plain
        return wording["identification_dated" if any(f.kind == "dating" for f in facts) else "identification"].format(family=family)
    if phase == "aside":
        reel = next((r.model for r in findings.reels if r.role == "mentioned" and inside & set(r.sentences)), None)
        return wording["aside"].format(reel=reel) if reel else plain
    if phase in ("inspection", "adjustment") and not steps:
        about = Counter(f.part for f in facts if f.part and f.kind in ("condition", "setting"))
        parts = [p for p, _ in about.most_common(1)]
    else:
        parts = _telling(steps, 1 if phase in ("inspection", "repair", "adjustment", "testing") else known["most"])
    if not parts:
        return plain
    what = _row(parts, steps)
    if phase in ("disassembly", "reassembly"):
        way = "out" if phase == "disassembly" and _inner(parts[-1]) else "off" if phase == "disassembly" else "in" if _inner(parts[-1]) else "on"
        return _sentence(wording[f"{phase}_{way}"].format(what=what))
    if phase == "lubrication":
        supplies = list(dict.fromkeys(_last(s.supply) for s in steps if s.supply and s.part in parts))[:2]
        return _sentence(wording["lubrication"].format(supply=" and ".join(supplies), what=what)) if supplies else plain
    if phase == "inspection":
        worn = any(f.kind == "condition" and f.part == parts[0] for f in facts)
        return wording["inspection_worn" if worn else "inspection"].format(what=what)
    if phase == "repair":
        fresh = any(s.do in ("replace", "install") and s.part == parts[0] for s in steps)
        return wording["repair_new" if fresh else "repair"].format(what=re.sub(r"^new ", "", what))
    return wording[phase].format(what=what)


def _family(reel: Reel) -> str:
    """A model's name without its number: "Dunnock" of "Dunnock 30"; the whole where it is all number."""
    return re.sub(r"\s+[\dA-Z/-]*\d[\w/-]*$", "", reel.model) or reel.model


def _last(name: str) -> str:
    return name.split()[-1]


def _inner(part: str) -> bool:
    return _last(part) in data("titles")["inner"]


def _telling(steps: list[Step], most: int) -> list[str]:
    """The parts to name, in the order of the work: the larger ones, small stuff only where nothing larger moved."""
    small = data("titles")["small"]
    order = list(dict.fromkeys(s.part for s in steps))
    large = [p for p in order if _last(p) not in small]
    pool = large or order
    if len(pool) <= most:
        return pool
    weight = Counter(s.part for s in steps)
    for s in steps:
        weight[s.part] += s.confidence
    keep = set(sorted(pool, key=lambda p: (-weight[p], pool.index(p)))[:most])
    return [p for p in pool if p in keep]


def _row(parts: list[str], steps: list[Step]) -> str:
    many = {s.part for s in steps if (s.qty or 1) > 1}
    names = [plural(p) if p in many else p for p in parts]
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
