#!/usr/bin/env python3
"""Fit the weights by which viewer questions are grouped, and measure them on episodes that they were not fitted on.

    python benchmarks/fit_questions.py --measure         each episode left out in turn: what the weights are worth elsewhere
    python benchmarks/fit_questions.py --write           fit on all episodes, write pipeline/trade/asked.toml
    python benchmarks/fit_questions.py --also DIR ...    with further scripts, DIR/*/script.yaml, read from their true words
    python benchmarks/fit_questions.py --keep DIR ...    keep what was read of the episodes there, and use it if it is there

Run again after a change to the wants of questions.toml, to items or to signs. Needs scipy, as a tool for fitting only.
"""

import argparse
import importlib.util
import json
import pickle
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "tests" / "scoring"), str(HERE)]

import numpy as np  # noqa: E402
import score as scoring  # noqa: E402
import yaml  # noqa: E402
from practice import MEDIA, true_words  # noqa: E402
from scipy.optimize import minimize  # noqa: E402

from pipeline import questions  # noqa: E402
from pipeline.chain import record_of  # noqa: E402
from pipeline.hearing.captions import read_captions  # noqa: E402
from pipeline.questions import alike  # noqa: E402
from pipeline.questions.comments import Comment  # noqa: E402
from pipeline.record import Episode  # noqa: E402
from pipeline.trade import data, load_trade  # noqa: E402

RIDGE = 10.0    # how strongly each weight, of signs brought to one spread, is held near zero
OUT = HERE.parent / "pipeline" / "trade" / "asked.toml"


def script_gold(path: Path) -> dict:
    """A script without sound as if it were spoken: a third of a second a word."""
    spec = importlib.util.spec_from_file_location("build_footage", MEDIA / "practice" / "build_footage.py")
    build_footage = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(build_footage)
    script, at, times = yaml.safe_load(path.read_text()), 0.5, []
    for line in script["lines"]:
        end = at + 0.34 * len(line["say"].split())
        times.append((at, end))
        at = end + 0.35 + float(line.get("pause", 0))
    return json.loads(json.dumps(build_footage.answers(script, times), default=str))


def episodes(also: Path | None, keep: Path | None) -> list[tuple[str, str, dict, Episode]]:
    """(set, name, answers, record without questions) of each."""
    jobs = [(p.parent.parent.name, p.parent) for p in sorted(MEDIA.glob("*/*/gold.json")) if (p.parent / "heard.vtt").exists()]
    jobs += [("scripts", p.parent) for p in sorted(also.glob("*/script.yaml"))] if also else []
    found, trade = [], load_trade()
    for group, folder in jobs:
        kept = keep and keep / f"{group}.{folder.name}.pickle"
        if kept and kept.exists():
            found.append(pickle.loads(kept.read_bytes()))
            continue
        gold = script_gold(folder / "script.yaml") if group == "scripts" else json.loads((folder / "gold.json").read_text())
        heard = true_words(gold) if group == "scripts" else read_captions(folder / "heard.vtt")
        found.append((group, folder.name, gold, record_of(heard, trade, id=folder.name, title=gold["title"])))
        if kept:
            kept.write_bytes(pickle.dumps(found[-1]))
    return found


def ask(gold: dict, episode: Episode) -> tuple[dict, list[alike.Asking]]:
    """The scores of an episode's questions, and the questions as they were compared."""
    seen: list[alike.Asking] = []
    fields = Comment.model_fields
    comments = [Comment(**{k: v for k, v in c.items() if k in fields and v is not None}) for c in gold["comments"]]
    group = questions.group
    questions.group = lambda asked: group(seen.extend(asked) or asked)
    try:
        found = questions.answer(comments, episode, load_trade())
    finally:
        questions.group = group
    return scoring.score_questions(gold["comments"], [q.model_dump(mode="json") for q in found]), seen


def pairs(gold: dict, asked: list[alike.Asking]) -> tuple[np.ndarray, np.ndarray]:
    """The signs of each pair of questions (pairs x signs), and whether they ask the same."""
    of = {c["id"]: c.get("same_as") for c in gold["comments"]}

    def first(id: str) -> str:
        return first(of[id]) if of.get(id) else id

    both = [(a, b) for n, b in enumerate(asked) for a in asked[:n]]
    rows = np.array([alike.signs(a, b) for a, b in both]).reshape(-1, len(alike.SIGNS))
    return rows, np.array([first(a.id) == first(b.id) for a, b in both], bool)


def fit(rows: np.ndarray, same: np.ndarray) -> tuple[float, np.ndarray]:
    """The base and the weight of each sign, by logistic regression held near zero."""
    spread = rows.std(0) + 1e-9
    x, sign = (rows - rows.mean(0)) / spread, np.where(same, 1.0, -1.0)

    def loss(w: np.ndarray) -> tuple[float, np.ndarray]:
        margin = sign * (w[0] + x @ w[1:])
        pull = -sign / (1 + np.exp(margin))
        return np.logaddexp(0, -margin).sum() + RIDGE / 2 * w[1:] @ w[1:], np.concatenate([[pull.sum()], x.T @ pull + RIDGE * w[1:]])

    w = minimize(loss, np.zeros(1 + x.shape[1]), jac=True, method="L-BFGS-B").x
    weights = w[1:] / spread
    return float(w[0] - weights @ rows.mean(0)), weights


def use(base: float, weights: np.ndarray) -> None:
    data("asked")["alike"] |= {"base": base, **dict(zip(alike.SIGNS, map(float, weights)))}


def write(base: float, weights: np.ndarray, count: int) -> None:
    least = data("asked")["alike"]["least"]
    rows = [f'"{name}" = {value:.3f}' for name, value in zip(alike.SIGNS, weights)]
    OUT.write_text("\n".join([
        f"# By what viewer questions are told to ask the same: fitted by benchmarks/fit_questions.py on {count} episodes, not set by hand.", "", "[alike]",
        f"least = {least}  # from this chance on two questions are one; set by hand", f"base = {base:.3f}", *rows]) + "\n")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--also", type=Path, metavar="DIR")
    parser.add_argument("--keep", type=Path, metavar="DIR")
    parser.add_argument("--measure", action="store_true")
    parser.add_argument("--write", action="store_true")
    args = parser.parse_args()
    data("asked").setdefault("alike", {})
    all_of = episodes(args.also, args.keep)
    evidence = [pairs(gold, ask(gold, episode)[1]) for _, _, gold, episode in all_of]
    if args.measure:
        table: dict[str, list[dict]] = {}
        for out, (group, name, gold, episode) in enumerate(all_of):
            rest = [e for i, e in enumerate(evidence) if i != out]
            use(*fit(np.concatenate([r for r, _ in rest]), np.concatenate([s for _, s in rest])))
            table.setdefault(group, []).append(ask(gold, episode)[0])
        for group, scores in table.items():
            print(group)
            for measure in scores[0]:
                known = [v["f1"] if isinstance(v, dict) else v for v in (s[measure] for s in scores) if v is not None]
                print(f"  {measure:44}{np.mean(known):.3f}")
    if args.write:
        write(*fit(np.concatenate([r for r, _ in evidence]), np.concatenate([s for _, s in evidence])), len(all_of))


if __name__ == "__main__":
    main()
