#!/usr/bin/env python3
"""What the chain sees in every annotated episode, with the answers: the lesson that learn.py teaches from.

    python benchmarks/teach/lesson.py lesson.json.gz
"""

import gzip
import json
import random
import re
import sys
from multiprocessing import Pool
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "benchmarks"), str(Path(__file__).resolve().parent)]

from practice import gold_of, hearings, true_words  # noqa: E402
from slips import Slips  # noqa: E402

from pipeline.hearing.words import Heard  # noqa: E402
from pipeline.mending import mend  # noqa: E402
from pipeline.reading import _english  # noqa: E402
from pipeline.reading.facts import find_facts  # noqa: E402
from pipeline.reading.offers import Offers  # noqa: E402
from pipeline.reading.ruled import ruled_steps, tell, tide_of  # noqa: E402
from pipeline.reading.signs import Signs, folded  # noqa: E402
from pipeline.reading.slots import slots_of  # noqa: E402
from pipeline.reading.talk import Talk  # noqa: E402
from pipeline.trade import load_trade  # noqa: E402


def anchor(step: dict, say: str) -> tuple[int, str, bool] | None:
    """Which words of its line stand for a step's part: where they begin, the words, and whether they tell only the action (the part is left out).

    The script says so (`at`, see sample_media/talks/README.md), else the part's longest name that stands there once. None where neither tells.
    """
    if at := step.get("at"):
        out, words, which = re.fullmatch(r"(~?)(.*?)(?:@(\d))?", at).groups()
        places = _places(words, say)
        return (places[int(which or 1) - 1], words, bool(out)) if len(places) >= int(which or 1) else None
    said = [(folded(m.group()), m.start(), m.end()) for m in re.finditer(r"[\w#'/-]+", say)]
    for name in sorted({folded(n) for n in ([step["part"]] if isinstance(step["part"], str) else step["part"])}, key=lambda n: -len(n.split())):
        long = len(name.split())
        found = [k for k in range(len(said) - long + 1) if " ".join(w for w, _, _ in said[k:k + long]) == name]
        if found:
            return (said[found[0]][1], say[said[found[0]][1]:said[found[0] + long - 1][2]], False) if len(found) == 1 else None
    return None


def _places(words: str, say: str) -> list[int]:
    return [m.start() for m in re.finditer(rf"(?<!\w){re.escape(words)}(?!\w)", say)]


def _mark(words: str, start: int, say: str, out: bool = False) -> str | None:
    """The `at` of words that begin there."""
    places = _places(words, say)
    return f"{'~' * out}{words}@{places.index(start) + 1}" if start in places else None


_STANDINS = {False: ("it", "it", "it", "that", "that one", "this", "she", "him", "that guy"), True: ("them", "them", "those", "these", "'em", "they")}
NEAR = 6   # lines: a part named this near may be called by a pronoun


def with_standins(gold: dict, seed: str) -> dict:
    """The same talk with some names of parts just spoken of changed to pronouns, so that what a pronoun means is told more often."""
    draw, gold = random.Random(seed), json.loads(json.dumps(gold))
    lines = {line["start"]: n for n, line in enumerate(gold["lines"])}
    names = [plain_words(line["say"]) for line in gold["lines"]]
    for n, line in enumerate(gold["lines"]):
        steps = [(found, s) for s in gold["steps"] if lines.get(s["start"]) == n and (found := anchor(s, line["say"]))]
        for found, step in steps:
            step["at"] = _mark(found[1], found[0], line["say"], found[2])
        named = [(found, s) for found, s in steps if not found[2] and folded(found[1]) in {folded(x) for x in s["part"]}]
        if not named:
            continue
        found, step = draw.choice(named)
        if sum(other[0] == found[0] for other, _ in steps) > 1 or not any(f" {folded(x)} " in names[m] for m in range(max(0, n - NEAR), n) for x in step["part"]):
            continue
        start, end = found[0], found[0] + len(found[1])
        lead = re.search(r"(?:\b(?:the|a|an|that|this|your|my|our|those|these|his|its)\s+)$", line["say"][:start], re.IGNORECASE)
        if lead is None and not re.search(r"[,.;]\s*$|^$", line["say"][:start]):
            continue  # "drag knob" of "the big drag knob": only whole noun phrases
        start = lead.start() if lead else start
        many = folded(found[1]) != found[1].lower()
        word = draw.choice(_STANDINS[many] if lead else ("those", "these") if many else ("that", "that one", "this one", "that guy"))
        word = word.capitalize() if not start else "it" if word == "she" else word
        said = line["say"][:start] + word + line["say"][end:]
        for other, s in steps:
            if s is not step and other[0] > start:
                s["at"] = _mark(other[1], other[0] + len(said) - len(line["say"]), said, other[2])
        step["at"] = _mark(word, start, said)
        line["say"] = said
    return gold


def plain_words(say: str) -> str:
    return " " + " ".join(folded(w) for w in re.findall(r"[\w#'/-]+", say)) + " "


def episodes() -> list[tuple[Path, str]]:
    """Every hearing of every annotated episode, never the blind ones: its folder, and truth, heard or base."""
    folders = sorted(p.parent for s in ("practice", "unseen", "talks") for p in (ROOT / "sample_media" / s).glob("*/script.yaml"))
    return [(folder, hearing) for folder in folders for hearing in hearings(folder, gold_of(folder))]


def slips_of_all() -> Slips:
    """What the light model made of the scripts that were spoken."""
    spoken = [hearings(f, gold_of(f)) for f in sorted(p.parent for p in (ROOT / "sample_media" / "talks").glob("*/heard.vtt"))]
    return Slips.of([([w.text for w in h["truth"].words], [w.text for w in h["heard"].words]) for h in spoken])


def seen(gold: dict, heard: Heard):
    """Slots and signs of one hearing of an episode."""
    talk = Talk.of(mend(heard, load_trade(), gold["title"]).sentences, _english(), load_trade(), gold["title"])
    told = tell(talk)
    tide = tide_of(told, len(talk.sentences))
    slots = slots_of(told, talk.docs)
    facts = find_facts(talk)
    return Signs(talk, told, ruled_steps(talk, told, tide), facts, [tide(n) for n in range(len(talk.sentences))]), slots, facts, tide


def _with_signs(offers: Offers, slot, offered: list[int]) -> zip:
    return zip(offered, offers.signs(slot, offered))


def named_here(gold: dict, kind: str, start: float, end: float) -> list[str]:
    """The right names of the one piece of a kind ("screw") that the line spoken then is about; none where it is about several."""
    line = max(gold["lines"], key=lambda x: min(x["end"], end) - max(x["start"], start))
    pieces = [p["names"] for p in gold["parts"] if any(at[0] == line["start"] for at in p["at"]) and any(folded(n).split()[-1:] == [kind] for n in p["names"])]
    return pieces[0] if len(pieces) == 1 else []


def exchanged(step: dict, ledger: list[dict]) -> bool | None:
    """Is a piece that comes off an old one that stays off, or one that goes on a new one? None where the ledger does not tell."""
    names = {folded(n) for n in step["part"]}
    rows = [(row, {folded(n) for n in row["part"]}) for row in ledger]
    here = [(row, its) for row, its in rows for side, do in (("off", "remove"), ("on", "install"))
            if step["do"] in (do, "replace") and row[side] is not None and abs(row[side] - step["start"]) < 0.1 and names & its]
    if any(row["off"] is None for row, _ in here):
        return True
    news = [its for row, its in rows if row["off"] is None]
    told = {row["on"] is None for row, its in here if row["on"] is not None or any(its & new for new in news)}
    return told.pop() if len(told) == 1 else None


def lesson_of(job: tuple[Path, str]) -> dict:
    folder, hearing = job
    gold = gold_of(folder)
    if hearing == "standins":
        gold = with_standins(gold, folder.name)
        heard = true_words(gold)
    elif hearing == "slips":
        heard = _slips.hear(true_words(gold), folder.name)
    else:
        heard = hearings(folder, gold)[hearing]
    signs, slots, _, _ = seen(gold, heard)
    return rows_of(folder.name, hearing, gold, signs, slots)


def rows_of(name: str, hearing: str, gold: dict, signs: Signs, slots: list) -> dict:
    """The lesson of one hearing: sentences, slots with what is offered to them, and the answers."""
    parts = [j for j, s in enumerate(slots) if s.is_named]
    meant, helps = Offers(signs, [slots[j] for j in parts]), Offers(signs, signs.aids)
    sentences = [{"text": d.text, "start": s.start, "end": s.end, "signs": signs.sentence(n)} for n, (s, d) in enumerate(zip(signs.talk.sentences, signs.talk.docs))]
    rows = []
    for slot in slots:
        told = signs.told[slot.told]
        this = signs.talk.sentences[told.sentence]
        names, text = sorted(signs.names(slot)), signs.talk.docs[told.sentence].text
        when = lambda at: this.start + at / max(1, len(text)) * (this.end - this.start)  # noqa: E731, B023
        offers = {}
        if slot.points:
            offers["meant"] = [[parts[m], *row] for m, row in _with_signs(meant, slot, meant.to(slot))]
        if slot.is_bare:
            offers["of"] = [[parts[m], *row] for m, row in _with_signs(meant, slot, meant.owners(slot))]
            offers["named"] = named_here(gold, folded(slot.unit.text.split()[-1]), this.start, this.end)
        offers["aids"] = [[m, *row] for m, row in _with_signs(helps, slot, helps.to(slot))]
        rows.append({"sentence": told.sentence, "kind": slot.kind, "names": names, "head": (slot.unit.text.split() or [""])[-1] if slot.unit else "", "place": slot.place, "clause": slot.clause,
                     "words": "" if slot.unit is None else text[slot.place[0]:slot.place[1]], "spot": when(slot.place[0]), "span": [when(slot.clause[0]), when(slot.clause[1])],
                     "time": this.start + told.share * (this.end - this.start), "plural": getattr(slot.unit, "plural", None), "signs": signs.slot(slot), **offers})
    helpers = [{"sentence": signs.told[a.told].sentence, "place": a.place, "group": a.unit.group, "names": sorted(signs.names(a))} for a in signs.aids]
    lines, steps = {line["start"]: line for line in gold["lines"]}, []
    for step in gold["steps"]:
        line = lines[step["start"]]
        found = anchor(step, line["say"])
        steps.append({**step, "exchanged": exchanged(step, gold["ledger"]), "anchor": found and [line["start"] + found[0] / len(line["say"]) * (line["end"] - line["start"]), found[1], found[2]]})
    return {"name": name, "hearing": hearing, "sentences": sentences, "slots": rows, "aids": helpers, "steps": steps, "facts": gold["facts"], "chapters": gold["chapters"]}


def _start(slips: Slips) -> None:
    global _slips
    _slips = slips


def main() -> None:
    jobs = episodes()
    folders, spoken = list(dict.fromkeys(f for f, _ in jobs)), {f for f, hearing in jobs if hearing == "heard"}
    jobs += [(f, "standins") for f in folders] + [(f, "slips") for f in folders if f not in spoken]
    # written as it comes: all of it at once takes 20 GB of memory
    with Pool(initializer=_start, initargs=(slips_of_all(),)) as pool, gzip.open(sys.argv[1], "wt", compresslevel=1) as file:
        for n, got in enumerate(pool.imap(lesson_of, jobs)):
            file.write(("," if n else "[") + json.dumps(got, default=str))
            print(f"{got['name']} {got['hearing']}: {len(got['sentences'])} sentences, {len(got['slots'])} slots", flush=True)
        file.write("]")


if __name__ == "__main__":
    main()
