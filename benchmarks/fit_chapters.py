#!/usr/bin/env python3
"""Fit the weights that chapters are found with, and measure them on episodes that they were not fitted on.

    python benchmarks/fit_chapters.py --measure          groups of episodes left out in turn: what the weights are worth elsewhere
    python benchmarks/fit_chapters.py --write            fit on all episodes, write pipeline/trade/chapters.toml
    python benchmarks/fit_chapters.py --also DIR ...     with further scripts, DIR/*/script.yaml, which have no sound: their times are
                                                         made from the number of words

Every episode is learned from as it was heard, as it was truly said, and with some commas made full stops, as speech models do.
Run again after every change to what is read from sentences (steps, facts, cues). Needs scipy, as a tool for fitting only.
"""

import argparse
import json
import os
import random
import sys
from multiprocessing import Pool
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "tests" / "scoring"), str(HERE)]

import numpy as np  # noqa: E402
import score as scoring  # noqa: E402
import yaml  # noqa: E402
from practice import MEDIA, true_words  # noqa: E402
from scipy.optimize import minimize  # noqa: E402

from pipeline.arranging import segments  # noqa: E402
from pipeline.arranging.settings import ChapterSettings  # noqa: E402
from pipeline.arranging.evidence import stems, weigh_up  # noqa: E402
from pipeline.arranging.segments import PHASES, Talk, Weights, believe, best_cut  # noqa: E402
from pipeline.hearing.captions import read_captions  # noqa: E402
from pipeline.mending import mend  # noqa: E402
from pipeline.reading import read  # noqa: E402
from pipeline.trade import load_trade  # noqa: E402

RIDGE, RIDGE_OPENING, RIDGE_WORDS = 1.0, 2.0, 3.0  # how strongly each weight is held near zero
SPREAD = 0.4                   # a word is weighed by itself that stands in this share of the episodes
FOLDS = 6
LEAST = ChapterSettings().least_seconds
OUT = HERE.parent / "pipeline" / "trade" / "chapters.toml"


def script_gold(path: Path) -> dict:
    """A script without sound as if it were spoken: a third of a second a word."""
    script, at, lines, marks = yaml.safe_load(path.read_text()), 0.5, [], []
    for line in script["lines"]:
        end = at + 0.34 * len(line["say"].split())
        lines.append({"start": at, "end": end, "say": line["say"]})
        if "chapter" in line:
            marks.append({"start": at, **line["chapter"]})
        at = end + 0.35 + float(line.get("pause", 0))
    return {"title": script["title"], "lines": lines, "chapters": marks, "duration": lines[-1]["end"]}


def cut_up(gold: dict, seed: str) -> dict:
    """The same talk in shorter sentences: four commas in ten become full stops."""
    chance, lines = random.Random(seed), []
    for line in gold["lines"]:
        words = line["say"].split()
        for i, word in enumerate(words):
            if word.endswith(",") and 2 <= i < len(words) - 1 and chance.random() < 0.4:
                words[i], words[i + 1] = word[:-1] + ".", words[i + 1][:1].upper() + words[i + 1][1:]
        lines.append({**line, "say": " ".join(words)})
    return {**gold, "lines": lines}


def prepare(job: tuple[str, str, dict, Path | None]) -> dict:
    name, way, gold, captions = job
    heard = read_captions(captions) if captions else true_words(cut_up(gold, name) if way == "cut up" else gold)
    trade = load_trade()
    mended = mend(heard, trade, gold["title"])
    return {"name": name, "way": way, "gold": gold, "sentences": mended.sentences, "findings": read(mended.sentences, trade, gold["title"])}


def weigh(rows: list[dict]) -> None:
    """Put the evidence and the true cut beside every row; words that stand in enough of the episodes are weighed too."""
    held: dict[str, set[str]] = {}
    for row in (r for r in rows if r["way"] == "true"):
        for word in {w for s in row["sentences"] for w in stems(s.text)}:
            held.setdefault(word, set()).add(row["name"])
    episodes, trade = {r["name"] for r in rows}, load_trade()
    words = tuple(sorted(w for w, names in held.items() if len(names) >= SPREAD * len(episodes)))
    for row in rows:
        row["evidence"] = weigh_up(row["sentences"], row["findings"], trade, words)
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
    ridge = np.array([RIDGE_WORDS if name.startswith("word: ") else RIDGE for name in rows[0]["evidence"].says])
    held = pack((np.full(k, RIDGE_OPENING), np.repeat(ridge, len(PHASES)), np.full(len(PHASES) * (len(PHASES) + 1), RIDGE), np.full(4, 0.01)))
    with Pool(processes, _share, ([r["evidence"].talk for r in rows],)) as pool:
        def loss(vector: np.ndarray) -> tuple[float, np.ndarray]:
            done = pool.map(_expected, [(i, vector) for i in range(len(rows))], chunksize=4)
            return (sum(d[0] for d in done) - vector @ target + (held * vector * vector).sum() / 2,
                    sum(d[1] for d in done) - target + held * vector)

        found = minimize(loss, np.zeros(len(target)), jac=True, method="L-BFGS-B", options={"maxiter": 120, "ftol": 1e-5})
    return unpack(found.x, k, m)


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
    plain = [n for n in says if not n.startswith("word: ")]
    lines = [f"# What chapters are found with: fitted by benchmarks/fit_chapters.py on {episodes} episodes, not set by hand. In logarithms of likelihood.",
             "", "# By a chapter's length, x = log(length / usual length): x, x squared, how far under half, how far over double.",
             f"length = [{', '.join(f'{v:.3f}' for v in weights.length)}]",
             "", "# How much more likely a chapter begins with a sentence that has this.", "[opening]"]
    lines += [f'"{n}" = {v:.2f}' for n, v in zip(opening, weights.opening)]
    lines += ["", "# What a sentence that has this says for each phase.", "[says]"] + [f'"{n}" = {table(PHASES, rows[n])}' for n in plain]
    lines += ["", "# From each phase, to which.", "[follows]"] + [f"{p} = {table(PHASES, row)}" for p, row in zip(PHASES, weights.follows)]
    lines += ["", "# The phase that an episode begins with.", "[first]"] + [f"{p} = {v:.2f}" for p, v in zip(PHASES, weights.first)]
    lines += ["", "# What a word (without its ending) says for each phase.", "[word]"]
    lines += [f'"{n.removeprefix("word: ")}" = {table(PHASES, rows[n])}' for n in says if n.startswith("word: ")]
    OUT.write_text("\n".join(lines) + "\n")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--also", type=Path, metavar="DIR", help="a folder with further scripts")
    parser.add_argument("--measure", action="store_true")
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--processes", type=int, default=2)
    args = parser.parse_args()
    scoring.texttiling = lambda lines: None
    jobs = []
    for path in sorted(MEDIA.glob("*/*/gold.json")):
        gold = json.loads(path.read_text())
        if (path.parent / "heard.vtt").exists():
            jobs += [(path.parent.name, "heard", gold, path.parent / "heard.vtt"), (path.parent.name, "true", gold, None), (path.parent.name, "cut up", gold, None)]
    for path in sorted(args.also.glob("*/script.yaml")) if args.also else ():
        gold = script_gold(path)
        jobs += [(f"{path.parent.name} (script)", "true", gold, None), (f"{path.parent.name} (script)", "cut up", gold, None)]
    with Pool(args.processes) as pool:
        rows = pool.map(prepare, jobs, chunksize=2)
    weigh(rows)
    names = sorted({r["name"] for r in rows})
    print(f"{len(names)} episodes, {len(rows)} ways of hearing them")
    if args.measure:
        random.Random(1).shuffle(names)
        table = []
        for fold in range(FOLDS):
            out = set(names[fold::FOLDS])
            weights = fit([r for r in rows if r["name"] not in out], args.processes)
            for r in (r for r in rows if r["name"] in out):
                table.append((r["name"], r["way"], *measured(r, weights)))
                print(f"{r['name']:28}{r['way']:8}" + "".join(f"{v:8.3f}" for v in table[-1][2:6]) + "".join(f"{v:5}" for v in table[-1][6:]), flush=True)
        for kind, mine in (("with sound", lambda n: "(script)" not in n), ("scripts", lambda n: "(script)" in n)):
            for way in ("heard", "true", "cut up"):
                chosen = [t[2:] for t in table if mine(t[0]) and t[1] == way]
                if chosen:
                    print(f"{kind:28}{way:8}" + "".join(f"{v:8.3f}" for v in np.mean(chosen, 0)[:4]) + "".join(f"{v:7.1f}" for v in np.mean(chosen, 0)[4:]))
    if args.write:
        evidence = rows[0]["evidence"]
        write(fit(rows, args.processes), evidence.opening, evidence.says, len(names))


if __name__ == "__main__":
    main()
