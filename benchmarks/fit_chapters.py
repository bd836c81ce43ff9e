#!/usr/bin/env python3
"""Fit the weights that chapters are found with, and measure them on episodes that they were not fitted on.

    python benchmarks/fit_chapters.py --crossed FILE ... --measure   groups of episodes left out in turn: what the weights are worth elsewhere
    python benchmarks/fit_chapters.py --crossed FILE ... --write     fit on all episodes, write pipeline/trade/chapters.toml

FILE is what `benchmarks/teach/learn.py --folds --out` gave: every episode as read by a reader that was not taught it. The shipped reader
knows the answers of these episodes, so weights fitted on what it sees in them would trust it too far.

Every episode is learned from as it was truly said and as each speech model heard it. Run again after every change to what is read from
sentences (steps, facts, cues) and whenever the reader is taught again. Needs scipy, as a tool for fitting only.
"""

import argparse
import os
import random
import sys
from functools import partial
from multiprocessing import Pool
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "tests" / "scoring"), str(HERE), str(HERE / "teach")]

import numpy as np  # noqa: E402
import score as scoring  # noqa: E402
from crossed import predictions, reading_of  # noqa: E402
from lesson import episodes, gold_of, hearings  # noqa: E402
from scipy.optimize import minimize  # noqa: E402

from pipeline.arranging import segments  # noqa: E402
from pipeline.arranging.settings import ChapterSettings  # noqa: E402
from pipeline.arranging.evidence import weigh_up  # noqa: E402
from pipeline.arranging.segments import PHASES, Talk, Weights, believe, best_cut  # noqa: E402
from pipeline.mending import mend  # noqa: E402
from pipeline.reading import find  # noqa: E402
from pipeline.trade import load_trade  # noqa: E402

RIDGE, RIDGE_OPENING = 1.0, 2.0  # how strongly each weight is held near zero
FOLDS = 5
LEAST = ChapterSettings().least_seconds
OUT = HERE.parent / "pipeline" / "trade" / "chapters.toml"


def prepare(job: tuple[Path, str, dict]) -> dict:
    folder, way, kept = job
    gold, trade = gold_of(folder), load_trade()
    sentences = mend(hearings(folder, gold)[way], trade, gold["title"]).sentences
    findings = find(sentences, trade, gold["title"], partial(reading_of, kept))
    return {"name": folder.name, "set": folder.parent.name, "way": way, "gold": gold, "sentences": sentences, "findings": findings}


def weigh(rows: list[dict]) -> None:
    """Put the evidence and the true cut beside every row."""
    for row in rows:
        row["evidence"] = weigh_up(row["sentences"], row["findings"], load_trade())
        row["true"] = true_cut(row["gold"], row["evidence"].talk)


def true_cut(gold: dict, talk: Talk) -> list[tuple[int, int]]:
    """(sentence, phase) of each true chapter: the sentence that begins nearest, no two nearer than the least length."""
    starts, cut = talk.times[:-1], []
    for chapter in gold["chapters"]:
        i = int(np.abs(starts - chapter["start"]).argmin()) if cut else 0
        while cut and i < len(starts) and starts[i] - starts[cut[-1][0]] < LEAST:
            i += 1
        if i < len(starts) and (not cut or talk.times[-1] - starts[i] >= LEAST):
            cut.append((i, PHASES.index(chapter["phase"])))
    return cut


def shapes(k: int, m: int) -> list[tuple[int, ...]]:
    return [(k,), (m, len(PHASES)), (len(PHASES), len(PHASES)), (len(PHASES),), (4,)]


def pack(values) -> np.ndarray:
    return np.concatenate([np.asarray(v).ravel() for v in values])


def unpack(vector: np.ndarray, k: int, m: int) -> Weights:
    out, at = [], 0
    for shape in shapes(k, m):
        out.append(vector[at:at + int(np.prod(shape))].reshape(shape))
        at += int(np.prod(shape))
    return Weights(*out)


def counts(talk: Talk, begins: np.ndarray, holds: np.ndarray, turns: np.ndarray, lengths: np.ndarray) -> np.ndarray:
    later = begins.sum(1)
    later[0] = 0.0
    return pack((later @ talk.opening, talk.says.T @ holds, turns, begins[0], lengths))


def true_counts(row: dict) -> np.ndarray:
    talk, n, size = row["evidence"].talk, len(row["evidence"].talk.says), len(PHASES)
    begins, holds, turns, lengths = np.zeros((n, size)), np.zeros((n, size)), np.zeros((size, size)), np.zeros(4)
    ends = [i for i, _ in row["true"][1:]] + [n]
    for (first, phase), last, before in zip(row["true"], ends, [None, *row["true"]]):
        begins[first, phase] = holds[first:last, phase] = 1.0
        lengths += segments.lengths(np.log(np.array([(talk.times[last] - talk.times[first]) / talk.usual])))[:, 0]
        if before:
            turns[before[1], phase] += 1
    return counts(talk, begins, holds, turns, lengths)


_TALKS: list[Talk] = []


def _share(talks: list[Talk]) -> None:
    _TALKS[:] = talks


def _expected(job: tuple[int, np.ndarray]) -> tuple[float, np.ndarray]:
    talk = _TALKS[job[0]]
    belief = believe(talk, unpack(job[1], talk.opening.shape[1], talk.says.shape[1]), LEAST)
    return belief.log_sum, counts(talk, belief.begins, belief.holds, belief.turns, belief.lengths)


def fit(rows: list[dict], processes: int) -> Weights:
    """The weights under which the true cuts are likeliest, held near zero."""
    k, m = rows[0]["evidence"].talk.opening.shape[1], rows[0]["evidence"].talk.says.shape[1]
    target = sum(map(true_counts, rows))
    held = pack((np.full(k, RIDGE_OPENING), np.full(len(PHASES) * (m + len(PHASES) + 1), RIDGE), np.full(4, 0.01)))
    # about how steep the loss is along each weight: in even steps the search needs half as many
    opening, says = (sum((getattr(r["evidence"].talk, table) ** 2).sum(0) for r in rows) for table in ("opening", "says"))
    scale = 1 / np.sqrt(held + pack((0.1 * opening, np.repeat(0.5 * says, len(PHASES)), np.full(len(PHASES) * (len(PHASES) + 1), 30.0), np.full(4, 1000.0))))
    with Pool(processes, _share, ([r["evidence"].talk for r in rows],)) as pool:
        def loss(scaled: np.ndarray) -> tuple[float, np.ndarray]:
            vector = scaled * scale
            done = pool.map(_expected, [(i, vector) for i in range(len(rows))], chunksize=4)
            return (sum(d[0] for d in done) - vector @ target + (held * vector * vector).sum() / 2,
                    (sum(d[1] for d in done) - target + held * vector) * scale)

        found = minimize(loss, np.zeros(len(target)), jac=True, method="L-BFGS-B", options={"maxiter": 75, "maxcor": 20, "ftol": 1e-5})
    return unpack(found.x * scale, k, m)


def measured(row: dict, weights: Weights) -> tuple[float, ...]:
    """F1 at ±10 s, Pk, WindowDiff, share of phases right, chapters found, chapters wanted."""
    talk = row["evidence"].talk
    belief = believe(talk, weights, LEAST)
    starts = best_cut(talk, belief, LEAST)
    found = [{"start": float(talk.times[a]), "phase": PHASES[belief.holds[a:z].mean(0).argmax()]} for a, z in zip(starts, [*starts[1:], len(talk.says)])]
    s = scoring.score_chapters(row["gold"]["chapters"], found, row["gold"]["lines"])
    return (s["chapters"]["f1"], s["chapters Pk (lower is better)"], s["chapters WindowDiff (lower is better)"],
            s["chapter phase right (share)"] or 0.0, len(found) - 1, s["chapters"]["wanted"])


def write(weights: Weights, opening: tuple[str, ...], says: tuple[str, ...], episodes: int) -> None:
    def table(names, values) -> str:
        return "{ " + ", ".join(f'"{n}" = {v:.2f}' for n, v in zip(names, values) if abs(v) >= 0.03) + " }"

    rows = dict(zip(says, weights.says))
    lines = [f"# What chapters are found with: fitted by benchmarks/fit_chapters.py on {episodes} episodes, not set by hand. In logarithms of likelihood.",
             "", "# By a chapter's length, x = log(length / usual length): x, x squared, how far under half, how far over double.",
             f"length = [{', '.join(f'{v:.3f}' for v in weights.length)}]",
             "", "# How much more likely a chapter begins with a sentence that has this.", "[opening]"]
    lines += [f'"{n}" = {v:.2f}' for n, v in zip(opening, weights.opening)]
    lines += ["", "# What a sentence that has this says for each phase.", "[says]"] + [f'"{n}" = {table(PHASES, rows[n])}' for n in says]
    lines += ["", "# From each phase, to which.", "[follows]"] + [f"{p} = {table(PHASES, row)}" for p, row in zip(PHASES, weights.follows)]
    lines += ["", "# The phase that an episode begins with.", "[first]"] + [f"{p} = {v:.2f}" for p, v in zip(PHASES, weights.first)]
    OUT.write_text("\n".join(lines) + "\n")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--crossed", type=Path, nargs="+", required=True, metavar="FILE", help="left-out predictions, .json.gz")
    parser.add_argument("--measure", action="store_true")
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--processes", type=int, default=2)
    args = parser.parse_args()
    scoring.texttiling = lambda lines: None
    taught = predictions(args.crossed)
    jobs = [(folder, way, taught[folder.name, way]) for folder, way in episodes() if (folder.name, way) in taught]
    with Pool(args.processes) as pool:
        rows = pool.map(prepare, jobs, chunksize=2)
    weigh(rows)
    names = sorted({r["name"] for r in rows})
    print(f"{len(names)} episodes, {len(rows)} ways of hearing them")
    if args.measure:
        random.Random(1).shuffle(names)
        table: dict[tuple[str, str], list[tuple[float, ...]]] = {}
        for fold in range(FOLDS):
            out = set(names[fold::FOLDS])
            weights = fit([r for r in rows if r["name"] not in out], args.processes)
            for r in (r for r in rows if r["name"] in out):
                figures = measured(r, weights)
                table.setdefault((r["set"], r["way"]), []).append(figures)
                print(f"{r['name']:28}{r['way']:8}" + "".join(f"{v:8.3f}" for v in figures[:4]) + "".join(f"{v:5}" for v in figures[4:]), flush=True)
        for (kind, way), figures in sorted(table.items()):
            print(f"{kind:28}{way:8}" + "".join(f"{v:8.3f}" for v in np.mean(figures, 0)[:4]) + "".join(f"{v:7.1f}" for v in np.mean(figures, 0)[4:]))
    if args.write:
        evidence = rows[0]["evidence"]
        write(fit(rows, args.processes), evidence.opening, evidence.says, len(names))


if __name__ == "__main__":
    main()
