#!/usr/bin/env python3
"""Fit what speaks for a new piece in the place of an old one, over episodes as read by a reader that was not taught them.

    python benchmarks/teach/exchanges.py crossed*.json.gz            how it does on episodes left out of the fitting, too
    python benchmarks/teach/exchanges.py crossed*.json.gz --write    and writes the weights in pipeline/trade/exchange.toml

Taught from the steps whose piece the ledger of the answers has on one line or on two (`exchanged` in lesson.py). After settle.py, since it looks at the steps told. Needs scipy.
"""

import argparse
import os
import sys
from multiprocessing import Pool
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parent))

import numpy as np  # noqa: E402
from crossed import predictions, reading_of  # noqa: E402
from lesson import ROOT, episodes, exchanged, gold_of, hearings, seen  # noqa: E402
from mending import fitted  # noqa: E402

sys.path.insert(0, str(ROOT / "tests" / "scoring"))

import score as scoring  # noqa: E402

from pipeline.reading.exchange import Exchanges  # noqa: E402
from pipeline.reading.steps import Judged  # noqa: E402

RIDGE = 3.0   # how strongly each weight is held near zero
FOLDS = 10
OUT = ROOT / "pipeline" / "trade" / "exchange.toml"


def walk(job) -> list[tuple[str, dict[str, float], bool]]:
    """Name, signs and whether it is a new piece, of each fitting told right whose answer the ledger tells."""
    folder, hearing, kept = job
    gold = gold_of(folder)
    signs, slots, _, tide = seen(gold, hearings(folder, gold)[hearing])
    done = Judged(signs, tide, slots, reading_of(kept, signs, slots)).drafts()
    exchanges, rows, used = Exchanges(signs.talk), [], set()
    for step in gold["steps"]:
        new = exchanged(step, gold["ledger"]) if step["do"] == "install" else None
        names = scoring.accepted(step["part"])
        told = [n for n, d in enumerate(done) if n not in used and d.do == "install" and scoring.plain(d.part) in names and scoring.near(step, {"start": d.start}, scoring.STEP_TOLERANCE)]
        if new is not None and told:
            used.add(told[0])
            rows.append((folder.name, exchanges.signs(done, told[0]), new))
    return rows


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("crossed", type=Path, nargs="+")
    parser.add_argument("--write", action="store_true")
    args = parser.parse_args()
    taught = predictions(args.crossed)
    with Pool() as pool:
        got = pool.map(walk, [(folder, hearing, taught[folder.name, hearing]) for folder, hearing in episodes() if (folder.name, hearing) in taught], chunksize=4)
    told = [row for rows in got for row in rows]
    names = sorted({k for _, row, _ in told for k in row})
    rows, new, of = np.array([[row[k] for k in names] for _, row, _ in told]), np.array([x for _, _, x in told], float), np.array([name for name, _, _ in told])
    groups, sure = sorted(set(of)), np.zeros(len(new))
    weights = lambda some: fitted(rows[some], new[some], np.ones(some.sum()), RIDGE)  # noqa: E731
    for fold in range(FOLDS):
        held = np.isin(of, groups[fold::FOLDS])
        w = weights(~held)
        sure[held] = 1 / (1 + np.exp(-(rows[held] @ w[:-1] + w[-1])))
    print(f"{len(new)} fittings, {new.sum():.0f} new; left out, called new from")
    for least in (0.3, 0.4, 0.45, 0.5, 0.6):
        print(f"  {least}: {((sure >= least) & (new > 0)).sum()} right, {((sure >= least) & (new == 0)).sum()} wrong")
    w = weights(np.ones(len(new), bool))
    text = f"at_first = {w[-1]:.3f}\n\n[weights]\n" + "".join(f'"{k}" = {x:.3f}\n' for k, x in zip(names, w))
    if args.write:
        OUT.write_text(OUT.read_text().split("at_first")[0] + text)
    else:
        print(text)


if __name__ == "__main__":
    main()
