#!/usr/bin/env python3
"""Fit what speaks for a step, and for what a pronoun means, over episodes as read by a reader that was not taught them.

    python benchmarks/teach/settle.py crossed*.json.gz            how it does on episodes left out of the fitting, too
    python benchmarks/teach/settle.py crossed*.json.gz --write    and writes pipeline/trade/steps.toml
    python benchmarks/teach/settle.py crossed0.json.gz --near 60  with few folds at hand: each weight of a step held near the one that stands, what a pronoun means left as it is

Talks whose answers take a small piece by its full name alone (STRICT) are left out: a bare "screw" is never right there, which practice's annotators often take, so that fitted on them nearly every step looks doubtful.

The walk is made twice, the second time with the weights of the first, since what was told before is evidence, too. Needs scipy.
"""

import argparse
import os
import re
import sys
from multiprocessing import Pool
from pathlib import Path
from statistics import mean

os.environ.setdefault("OMP_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parent))

import numpy as np  # noqa: E402
from crossed import predictions, reading_of  # noqa: E402
from lesson import ROOT, episodes, gold_of, hearings, seen  # noqa: E402
from mending import fitted  # noqa: E402
from scipy.optimize import minimize  # noqa: E402

sys.path.insert(0, str(ROOT / "tests" / "scoring"))

import score as scoring  # noqa: E402

from pipeline.reading import steps as reading_steps  # noqa: E402
from pipeline.trade import data  # noqa: E402

RIDGE, RIDGE_MEANT = 3.0, 0.5  # how strongly each weight is held near zero
FOLDS = 5
STRICT = re.compile(r"([w-z]|[a-z]{2})-\d+")
OUT = ROOT / "pipeline" / "trade" / "steps.toml"
HEAD = "# What speaks for a step, and for a part being meant: fitted by benchmarks/teach/settle.py, not set by hand.\n\n"


def walk(job) -> tuple[str, list, list]:
    """Name, offers as (evidence, right), questions what is meant as (signs of each part, which are right)."""
    folder, hearing, kept, weights = job
    gold = gold_of(folder)
    if weights:
        at_first, told, meant = weights
        reading_steps.confidence = lambda row: 1 / (1 + np.exp(-np.clip(at_first + sum(w * row.get(k, 0.0) for k, w in told.items()), -30, 30)))
        reading_steps.referring = lambda: meant
    signs, slots, _, tide = seen(gold, hearings(folder, gold)[hearing])
    judged = reading_steps.Judged(signs, tide, slots, reading_of(kept, signs, slots))
    judged.log = []
    judged.drafts()
    answers = [(s["do"], scoring.accepted(s["part"]), s) for s in gold["steps"]]
    offers = []
    for o in judged.log:
        part = scoring.plain(o.said or judged.bench.label(o.meants[0].name))
        offers.append((o.evidence, any(do == o.do and part in names and scoring.near(s, {"start": o.moment[0]}, scoring.STEP_TOLERANCE) for do, names, s in answers)))
    asked, near = [], 1.2 if hearing == "truth" else 2.5
    for j, do, parts in judged.asked:
        at = judged._moment(signs.told[slots[j].told])[0]
        names = set().union(*(n for d, n, s in answers if d == do and s["start"] - near <= at <= s["end"] + near), set())
        right = [scoring.plain(name) in names for name, _ in parts]
        if any(right) and not all(right):
            asked.append(([row for _, row in parts], right))
    return folder.name, offers, asked


def fit_meant(asked: list, names: list[str]) -> np.ndarray:
    """Weights of a choice among what is offered (conditional logit), ridge."""
    rows = [np.array([[part.get(k, 0.0) for k in names] for part in parts]) for parts, _ in asked]
    starts = np.cumsum([0, *map(len, rows)])[:-1]
    x, right, sizes = np.vstack(rows), np.concatenate([r for _, r in asked]), np.array([len(r) for r in rows])

    def loss(w):
        s = x @ w
        e = np.exp(s - np.repeat(np.maximum.reduceat(s, starts), sizes))
        all_, good = np.add.reduceat(e, starts), np.add.reduceat(e * right, starts)
        pull = e * right / np.repeat(good, sizes) - e / np.repeat(all_, sizes)
        return np.log(all_ / good).sum() + RIDGE_MEANT * w @ w, -pull @ x + 2 * RIDGE_MEANT * w

    return minimize(loss, np.zeros(len(names)), jac=True, method="L-BFGS-B").x


def told_weights(rows: np.ndarray, right: np.ndarray, names: list[str], near: float | None) -> np.ndarray:
    """What each evidence weighs that a step is right, the constant last; `near`: how strongly each is held near the one that stands."""
    if near is None:
        return fitted(rows, right, np.ones(len(rows)), RIDGE)
    stands = np.array([*(data("steps")["weights"].get(k, 0.0) for k in names), data("steps")["at_first"]])
    return stands + fitted(rows, right, np.ones(len(rows)), near, rows @ stands[:-1] + stands[-1])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("crossed", type=Path, nargs="+")
    parser.add_argument("--near", type=float)
    parser.add_argument("--write", action="store_true")
    args = parser.parse_args()
    taught = predictions(args.crossed)
    jobs = [(folder, hearing, taught[folder.name, hearing]) for folder, hearing in episodes() if (folder.name, hearing) in taught and not STRICT.fullmatch(folder.name)]
    weights = None
    for turn in (1, 2):
        with Pool() as pool:
            got = pool.map(walk, [(*job, weights) for job in jobs], chunksize=4)
        names = sorted({k for _, offers, _ in got for row, _ in offers for k in row})
        rows = np.array([[row.get(k, 0.0) for k in names] for _, offers, _ in got for row, _ in offers])
        right = np.array([hit for _, offers, _ in got for _, hit in offers], float)
        of = np.array([name for name, offers, _ in got for _ in offers])
        asked = [(name, parts, r) for name, _, questions in got for parts, r in questions]
        signs = sorted({k for _, parts, _ in asked for part in parts for k in part})
        meant = lambda some: dict(zip(signs, map(float, fit_meant(some, signs)))) if args.near is None else data("steps")["referring"]  # noqa: E731, B023
        groups, sure, hits = sorted(set(of)), np.zeros(len(right)), []
        for fold in range(FOLDS):
            out = set(groups[fold::FOLDS])
            held = np.isin(of, list(out))
            w = told_weights(rows[~held], right[~held], names, args.near)
            sure[held] = 1 / (1 + np.exp(-np.clip(rows[held] @ w[:-1] + w[-1], -30, 30)))
            w = meant([(parts, r) for name, parts, r in asked if name not in out])
            hits += [r[int(np.argmax([sum(part.get(k, 0.0) * x for k, x in w.items()) for part in parts]))] for name, parts, r in asked if name in out]
        p = np.clip(sure, 1e-6, 1 - 1e-6)
        print(f"turn {turn}: {len(right)} offers, {right.mean():.3f} right; log loss left out {-(right * np.log(p) + (1 - right) * np.log(1 - p)).mean():.4f}; "
              f"what is meant, left out: {mean(hits):.3f} of {len(hits)}", flush=True)
        w = told_weights(rows, right, names, args.near)
        weights = float(w[-1]), dict(zip(names, map(float, w))), meant([(parts, r) for _, parts, r in asked])
    text = HEAD + f"at_first = {weights[0]:.3f}\n\n[weights]\n" + "".join(f'"{k}" = {x:.3f}\n' for k, x in weights[1].items())
    text += "\n[referring]\n" + "".join(f'"{k}" = {x:.3f}\n' for k, x in weights[2].items())
    if args.write:
        OUT.write_text(text)
    else:
        print(text)


if __name__ == "__main__":
    main()
