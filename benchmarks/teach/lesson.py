#!/usr/bin/env python3
"""What the chain sees in every annotated episode, with the answers: the lesson that learn.py teaches from.

    python benchmarks/teach/lesson.py lesson.json.gz
"""

import gzip
import json
import sys
from multiprocessing import Pool
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "benchmarks")]

from practice import gold_of, true_words, words_of_json  # noqa: E402

from pipeline.hearing.captions import read_captions  # noqa: E402
from pipeline.hearing.words import Heard  # noqa: E402
from pipeline.mending import mend  # noqa: E402
from pipeline.reading import _english  # noqa: E402
from pipeline.reading.facts import find_facts  # noqa: E402
from pipeline.reading.offers import Offers  # noqa: E402
from pipeline.reading.ruled import ruled_steps, tell, tide_of  # noqa: E402
from pipeline.reading.signs import Signs  # noqa: E402
from pipeline.reading.slots import slots_of  # noqa: E402
from pipeline.reading.talk import Talk  # noqa: E402
from pipeline.trade import load_trade  # noqa: E402


def hearings(folder: Path, gold: dict) -> dict[str, Heard]:
    out = {"truth": true_words(gold)}
    if (folder / "heard.vtt").exists():
        out["heard"] = read_captions(folder / "heard.vtt")
    if (folder / "heard-base.json").exists():
        out["base"] = words_of_json(folder / "heard-base.json")
    return out


def episodes() -> list[tuple[Path, str]]:
    """Every hearing of every annotated episode, never the blind ones: its folder, and truth, heard or base."""
    folders = sorted(p.parent for s in ("practice", "unseen", "talks") for p in (ROOT / "sample_media" / s).glob("*/script.yaml"))
    return [(folder, hearing) for folder in folders for hearing in hearings(folder, gold_of(folder))]


def seen(gold: dict, heard: Heard):
    """Slots and signs of one hearing of an episode."""
    talk = Talk.of(mend(heard, load_trade(), gold["title"]).sentences, _english(), load_trade(), gold["title"])
    told = tell(talk)
    tide = tide_of(told, len(talk.sentences))
    slots = slots_of(told, talk.docs)
    facts = find_facts(talk)
    return Signs(talk, told, ruled_steps(talk, told, tide), facts, [tide(n) for n in range(len(talk.sentences))]), slots, facts, tide


def _with_signs(offers: Offers, slot) -> zip:
    offered = offers.to(slot)
    return zip(offered, offers.signs(slot, offered))


def lesson_of(job: tuple[Path, str]) -> dict:
    folder, hearing = job
    gold = gold_of(folder)
    signs, slots, _, _ = seen(gold, hearings(folder, gold)[hearing])
    return rows_of(folder.name, hearing, gold, signs, slots)


def rows_of(name: str, hearing: str, gold: dict, signs: Signs, slots: list) -> dict:
    """The lesson of one hearing: sentences, slots with what is offered to them, and the answers."""
    parts = [j for j, s in enumerate(slots) if s.is_part]
    meant, helps = Offers(signs, [slots[j] for j in parts]), Offers(signs, signs.aids)
    sentences = [{"text": d.text, "start": s.start, "end": s.end, "signs": signs.sentence(n)} for n, (s, d) in enumerate(zip(signs.talk.sentences, signs.talk.docs))]
    rows = []
    for slot in slots:
        told = signs.told[slot.told]
        this = signs.talk.sentences[told.sentence]
        names = sorted(signs.names(slot))
        offers = {}
        if slot.kind in {"pro", "none"}:
            offers["meant"] = [[parts[m], *row] for m, row in _with_signs(meant, slot)]
        offers["aids"] = [[m, *row] for m, row in _with_signs(helps, slot)]
        rows.append({"sentence": told.sentence, "kind": slot.kind, "names": names, "head": (slot.unit.text.split() or [""])[-1] if slot.unit else "", "place": slot.place, "clause": slot.clause,
                     "time": this.start + told.share * (this.end - this.start), "plural": getattr(slot.unit, "plural", None), "signs": signs.slot(slot), **offers})
    helpers = [{"sentence": signs.told[a.told].sentence, "place": a.place, "group": a.unit.group, "names": sorted(signs.names(a))} for a in signs.aids]
    return {"name": name, "hearing": hearing, "sentences": sentences, "slots": rows, "aids": helpers, **{k: gold[k] for k in ("steps", "facts", "chapters")}}


def main() -> None:
    lesson = []
    with Pool() as pool:
        for got in pool.imap(lesson_of, episodes()):
            lesson.append(got)
            print(f"{got['name']} {got['hearing']}: {len(got['sentences'])} sentences, {len(got['slots'])} slots", flush=True)
    Path(sys.argv[1]).write_bytes(gzip.compress(json.dumps(lesson, default=str).encode()))


if __name__ == "__main__":
    main()
