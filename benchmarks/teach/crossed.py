#!/usr/bin/env python3
"""Score what learn.py --folds gave: every episode as read by a reader that was not taught it, through the chain as it is now.

    python benchmarks/teach/crossed.py crossed*.json.gz
"""

import gzip
import json
import sys
from collections import defaultdict
from multiprocessing import Pool
from pathlib import Path
from statistics import mean

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from lesson import ROOT, episodes, gold_of, hearings, seen  # noqa: E402

sys.path.insert(0, str(ROOT / "tests" / "scoring"))

import score as scoring  # noqa: E402

from pipeline.arranging.ledger import keep_ledger  # noqa: E402
from pipeline.reading.facts import weighed  # noqa: E402
from pipeline.reading.reader import PAIRS, PHASES, Reading  # noqa: E402
from pipeline.reading.signs import Signs  # noqa: E402
from pipeline.reading.slots import Slot  # noqa: E402
from pipeline.reading.steps import find_steps  # noqa: E402
from pipeline.trade import load_trade  # noqa: E402

SHOWN = ("steps", "steps, any action", "step tool right (share)", "step supply right (share)", "step qty right (share)", "facts", "ledger", "ledger, not shown going back")


def predictions(files: list[Path]) -> dict[tuple[str, str], dict]:
    """(episode, hearing): what a reader makes of it that was not taught it."""
    return {(e["name"], e["hearing"]): e for f in files for e in json.loads(gzip.decompress(f.read_bytes()))}


def reading_of(kept: dict, seen: Signs, slots: list[Slot]) -> Reading:
    """A left-out prediction as the reader would have given it. ValueError where it was made of other sentences or slots."""
    sentences = np.array(kept["sentences"])
    if len(kept["actions"]) != len(slots) or len(sentences) != len(seen.talk.sentences):
        raise ValueError(f"{kept['name']} {kept['hearing']}: the chain sees other slots than the lesson did; make the lesson and the crossed file again")
    kinds, phases, opens = np.split(sentences, [-1 - len(PHASES), -1], 1)
    chosen = {pair: {int(j): [(int(m), float(c)) for m, c in offered] for j, offered in kept[pair].items()} for pair in PAIRS}
    actions = np.array(kept["actions"])
    return Reading(actions[:, :-1], kinds, phases, opens[:, 0], exchanged=actions[:, -1], **chosen)


def score(job) -> tuple[tuple[str, str], dict, list]:
    folder, hearing, kept = job
    gold = gold_of(folder)
    signs, slots, facts, tide = seen(gold, hearings(folder, gold)[hearing])
    reading = reading_of(kept, signs, slots)
    steps = find_steps(signs, slots, reading, tide)
    found = [x.model_dump() for x in steps]
    scores = scoring.score_steps(gold["steps"], found) | scoring.score_facts(gold["facts"], [f.model_dump() for f in weighed(facts, reading, signs.talk)])
    scores |= scoring.score_ledger(gold["ledger"], [line.model_dump() for line in keep_ledger(steps, load_trade())])
    same = lambda g, f: f["do"] == g["do"] and scoring.plain(f["part"]) in scoring.accepted(g["part"]) and scoring.near(g, f, scoring.STEP_TOLERANCE)  # noqa: E731
    right = {j for _, j in scoring.pair_up(gold["steps"], found, same)}
    return (folder.parent.name, hearing), scores, [(x["confidence"], j in right) for j, x in enumerate(found)]


def main() -> None:
    taught = predictions(list(map(Path, sys.argv[1:])))
    rows, told = defaultdict(list), []
    with Pool() as pool:
        for place, scores, sure in pool.imap(score, [(folder, hearing, taught[folder.name, hearing]) for folder, hearing in episodes() if (folder.name, hearing) in taught]):
            rows[place].append(scores)
            told += sure
    for (group, hearing), scores in rows.items():
        value = lambda m: mean(x["f1"] if isinstance(x, dict) else x for s in scores if (x := s.get(m)) is not None)  # noqa: E731
        print(f"{group:9} {hearing:6} ({len(scores)})", *(f"{m} {value(m):.3f}" for m in SHOWN), sep="  ")
    for low in range(0, 10):
        inside = [hit for sure, hit in told if low / 10 <= sure < (low + 1) / 10 + (low == 9)]
        if inside:
            print(f"confidence {low / 10:.1f} to {low / 10 + 0.1:.1f}: {len(inside)} steps, {mean(inside):.2f} right")


if __name__ == "__main__":
    main()
