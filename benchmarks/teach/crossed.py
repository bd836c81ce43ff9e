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

from lesson import ROOT, gold_of, hearings, seen  # noqa: E402

sys.path.insert(0, str(ROOT / "tests" / "scoring"))

import score as scoring  # noqa: E402

from pipeline.arranging.ledger import keep_ledger  # noqa: E402
from pipeline.reading.facts import weighed  # noqa: E402
from pipeline.reading.reader import PAIRS, Reading  # noqa: E402
from pipeline.reading.steps import find_steps  # noqa: E402
from pipeline.trade import load_trade  # noqa: E402

SHOWN = ("steps", "steps, any action", "step tool right (share)", "step supply right (share)", "step qty right (share)", "facts", "ledger", "ledger, not shown going back")


def predictions(files: list[Path]) -> dict[tuple[str, str], dict]:
    """(episode, hearing): what a reader makes of it that was not taught it."""
    return {(e["name"], e["hearing"]): e for f in files for e in json.loads(gzip.decompress(f.read_bytes()))}


def episodes():
    """Every hearing of every annotated episode: folder, answers, which hearing, its words."""
    for folder in sorted(p.parent for s in ("practice", "unseen", "talks") for p in (ROOT / "sample_media" / s).glob("*/script.yaml")):
        gold = gold_of(folder)
        for hearing, heard in hearings(folder, gold).items():
            yield folder, gold, hearing, heard


def reading_of(kept: dict) -> Reading:
    s = np.array(kept["sentences"])
    chosen = {pair: {int(j): [(int(m), float(c)) for m, c in offered] for j, offered in kept[pair].items()} for pair in PAIRS}
    return Reading(np.array(kept["actions"]), s[:, :12], s[:, 12:24], s[:, 24], **chosen)


def score(job) -> tuple[tuple[str, str], dict, list]:
    folder, gold, hearing, heard, kept = job
    signs, slots, facts, tide = seen(gold, heard)
    if len(kept["actions"]) != len(slots) or len(kept["sentences"]) != len(signs.talk.sentences):
        raise SystemExit(f"{folder.name} {hearing}: the chain sees other slots than the lesson did; make the lesson again")
    reading = reading_of(kept)
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
        for place, scores, sure in pool.imap(score, [(*e, taught[e[0].name, e[2]]) for e in episodes()]):
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
