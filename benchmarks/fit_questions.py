#!/usr/bin/env python3
"""Fit by what viewers' questions are answered and grouped, and measure it on episodes that it was not fitted on.

    python benchmarks/fit_questions.py crossed*.json.gz              each fifth of the episodes left out in turn: what the weights are worth elsewhere
    python benchmarks/fit_questions.py crossed*.json.gz --write      fits on all of them, writes pipeline/trade/asked.toml
    python benchmarks/fit_questions.py --kept FILE                   with what was read of the episodes last time; with crossed files, keeps it there

The episodes are as a reader saw them that was not taught them (benchmarks/teach/README.md). Run again after a change to the wants of
questions.toml, to items or to signs. Needs scipy, as a tool for fitting only.
"""

import argparse
import hashlib
import os
import pickle
import sys
from collections import Counter
from multiprocessing import Pool
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "tests" / "scoring"), str(HERE), str(HERE / "teach")]

import numpy as np  # noqa: E402
import score as scoring  # noqa: E402
import tomlkit  # noqa: E402
from scipy.optimize import minimize  # noqa: E402

from pipeline import questions  # noqa: E402
from pipeline.arranging.ledger import keep_ledger  # noqa: E402
from pipeline.questions import alike, ranking  # noqa: E402
from pipeline.questions.comments import Comment  # noqa: E402
from pipeline.reading.facts import weighed  # noqa: E402
from pipeline.reading.steps import find_steps  # noqa: E402
from pipeline.record import Episode  # noqa: E402
from pipeline.trade import data, load_trade  # noqa: E402

RIDGE, RIDGE_ALIKE = 3.0, 10.0  # how strongly each weight, of signs brought to one spread, is held near zero
LINE = 0.3                      # what a sentence near the line that answers is worth, beside one of that line
SAID_OF = 25                    # a want that fewer questions have gets no weight of its own
FOLDS = 5
OUT = HERE.parent / "pipeline" / "trade" / "asked.toml"
HEAD = "# By what viewer questions are answered, and told to ask the same: fitted by benchmarks/fit_questions.py, not set by hand.\n\n"


def read(job) -> tuple[str, str, str, list[dict], str]:
    """Set, name, hearing, comments with their answers, and the record as JSON."""
    from crossed import reading_of
    from lesson import gold_of, hearings, seen

    folder, hearing, kept = job
    gold = gold_of(folder)
    signs, slots, facts, tide = seen(gold, hearings(folder, gold)[hearing])
    reading = reading_of(kept, signs, slots)
    steps = find_steps(signs, slots, reading, tide)
    episode = Episode(id=folder.name, title=gold["title"], duration=gold["duration"], sentences=list(signs.talk.sentences),
                      facts=weighed(facts, reading, signs.talk), steps=steps, ledger=keep_ledger(steps, load_trade()))
    return folder.parent.name, folder.name, hearing, gold["comments"], episode.model_dump_json()


def ask(job) -> tuple[list, list[tuple[tuple, bool]], dict[str, np.ndarray]]:
    """Each question with its signs and wants; each pair of questions with its signs and whether they ask the same; what the encoder made of each text."""
    (_, _, _, answers, record), known = job
    episode, of = Episode.model_validate_json(record), {c["id"]: c for c in answers}
    seen, compared = [], []
    chances, group, vectors = questions.seeking.chances, questions.group, questions.seeking.vectors

    def watch(seeker, sought):
        seen.append((sought, *ranking.signs(seeker, sought), [(s.start, s.end) for s in seeker.sentences]))
        return np.zeros(len(seeker.sentences)), 0.0

    def remember(texts):
        new = [t for t in texts if t not in known]
        known.update(zip(new, vectors(new)) if new else ())
        return np.array([known[t] for t in texts])

    questions.seeking.chances, questions.group, questions.seeking.vectors = watch, lambda asked: compared.extend(asked) or group(asked), remember
    try:
        questions.answer(comments_of(answers), episode, load_trade())
    finally:
        questions.seeking.chances, questions.group, questions.seeking.vectors = chances, group, vectors
    first = lambda id: first(of[id]["same_as"]) if of[id].get("same_as") else id  # noqa: E731
    pairs = [(alike.signs(a, b), first(a.id) == first(b.id)) for n, b in enumerate(compared) for a in compared[:n]]
    wording = questions.Wording(load_trade(), (s.text for s in episode.sentences))
    texts = {wording.right(questions.shown(c["text"][:questions.LONGEST])): c for c in answers if c.get("question")}
    return [(texts[s.comment], *rest, s.wants[0].name if s.wants else "") for s, *rest in seen if s.comment in texts], pairs, known


def right(answered: list | None, times: list[tuple[float, float]]) -> np.ndarray:
    """What each sentence is worth as the answer."""
    if not answered:
        return np.zeros(len(times))
    start, end = answered
    return np.array([1.0 if b >= start - 0.5 and a <= end + 0.5 else LINE if start - scoring.ANSWER_TOLERANCE <= a <= end + scoring.ANSWER_TOLERANCE else 0.0 for a, b in times])


def fit_answers(asked: list, shares: list[float]) -> dict:
    """A choice among the sentences and none of them (conditional logit), ridge."""
    names = [n for n, count in Counter(want for *_, want in asked).items() if count >= SAID_OF]
    each = np.concatenate([rows for _, rows, *_ in asked])
    doubts = np.array([[*row, *(float(want == n) for n in names)] for *_, row, _, want in asked])
    mean, spread, mean_d, spread_d = each.mean(0), each.std(0) + 1e-9, doubts.mean(0), doubts.std(0) + 1e-9
    xs, z = [(rows - mean) / spread for _, rows, *_ in asked], (doubts - mean_d) / spread_d
    goals = [np.append(right(c["answered_at"], times), float(not c["answered_at"])) for c, _, _, times, _ in asked]
    count = each.shape[1]

    def loss(w: np.ndarray) -> tuple[float, np.ndarray]:
        total, slope = 0.0, np.zeros_like(w)
        for x, d, goal, share in zip(xs, z, goals, shares):
            if not goal.any():
                continue
            row = np.append(x @ w[:count], w[count] + d @ w[count + 1:])
            p = np.exp(row - row.max())
            p /= p.sum()
            good = p * goal
            sum_ = good.sum() + 1e-12
            total -= share * np.log(sum_)
            off = share * (p - good / sum_)
            slope[:count] += x.T @ off[:-1]
            slope[count] += off[-1]
            slope[count + 1:] += off[-1] * d
        held = np.append(w[:count], [0.0, *w[count + 1:]])
        return total + RIDGE / 2 * held @ held, slope + RIDGE * held

    w = minimize(loss, np.zeros(count + 1 + z.shape[1]), jac=True, method="L-BFGS-B", options={"maxiter": 200}).x
    signs, none = w[:count] / spread, w[count + 1:] / spread_d
    base = w[count] - none @ mean_d + signs @ mean
    return {"base": float(base), "signs": dict(zip(ranking.SIGNS, map(float, signs))), "doubts": dict(zip(ranking.DOUBTS, map(float, none))),
            "wants": dict(zip(names, map(float, none[len(ranking.DOUBTS):])))}


def fit_alike(pairs: list[tuple[tuple, bool]]) -> dict:
    """By logistic regression held near zero."""
    rows, same = np.array([r for r, _ in pairs]), np.array([s for _, s in pairs])
    spread = rows.std(0) + 1e-9
    x, sign = (rows - rows.mean(0)) / spread, np.where(same, 1.0, -1.0)

    def loss(w: np.ndarray) -> tuple[float, np.ndarray]:
        margin = sign * (w[0] + x @ w[1:])
        pull = -sign / (1 + np.exp(margin))
        return np.logaddexp(0, -margin).sum() + RIDGE_ALIKE / 2 * w[1:] @ w[1:], np.concatenate([[pull.sum()], x.T @ pull + RIDGE_ALIKE * w[1:]])

    w = minimize(loss, np.zeros(1 + x.shape[1]), jac=True, method="L-BFGS-B").x
    weights = w[1:] / spread
    return {"least": data("asked")["alike"]["least"], "base": float(w[0] - weights @ rows.mean(0)), **dict(zip(alike.SIGNS, map(float, weights)))}


def fit(rows: list, evidence: list) -> dict:
    heard = Counter(row[1] for row in rows)
    asked = [(q, 1 / heard[row[1]] ** 0.5) for row, (questions_, *_) in zip(rows, evidence) for q in questions_]
    return {"answer": fit_answers([q for q, _ in asked], [share for _, share in asked]), "alike": fit_alike([p for row, (_, pairs, _) in zip(rows, evidence) if row[2] == "truth" for p in pairs])}


def scored(job) -> dict:
    weights, (_, _, _, answers, record), known = job
    data("asked").update(weights)
    questions.seeking.vectors = lambda texts: np.array([known[t] for t in texts])
    found = questions.answer(comments_of(answers), Episode.model_validate_json(record), load_trade())
    return scoring.score_questions(answers, [q.model_dump(mode="json") for q in found])


def comments_of(answers: list[dict]) -> list[Comment]:
    return [Comment(**{k: v for k, v in c.items() if k in Comment.model_fields and v is not None}) for c in answers]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("crossed", nargs="*", type=Path)
    parser.add_argument("--kept", type=Path, metavar="FILE")
    parser.add_argument("--write", action="store_true")
    args = parser.parse_args()
    data("asked")["answer"] = {"base": 0.0, "signs": dict.fromkeys(ranking.SIGNS, 0.0), "doubts": dict.fromkeys(ranking.DOUBTS, 0.0), "wants": {}}  # what is gathered hangs on no weights
    with Pool() as pool:
        if args.crossed:
            from crossed import predictions
            from lesson import episodes

            taught = predictions(args.crossed)
            rows = pool.map(read, [(folder, hearing, taught[folder.name, hearing]) for folder, hearing in episodes() if (folder.name, hearing) in taught], chunksize=4)
            evidence = [ask((row, {})) for row in rows]  # here: the encoder takes all cores
            if args.kept:
                args.kept.write_bytes(pickle.dumps((rows, [known for _, _, known in evidence])))
        else:
            rows, heard = pickle.loads(args.kept.read_bytes())
            evidence = pool.map(ask, zip(rows, heard), chunksize=4)
        fold = [int(hashlib.md5(row[1].encode()).hexdigest(), 16) % FOLDS for row in rows]
        folds = [fit([r for r, f in zip(rows, fold) if f != k], [e for e, f in zip(evidence, fold) if f != k]) for k in range(FOLDS)]
        table: dict[tuple, list[dict]] = {}
        for row, result in zip(rows, pool.imap(scored, [(folds[f], row, known) for row, f, (_, _, known) in zip(rows, fold, evidence)], chunksize=4)):
            table.setdefault((row[0], row[2]), []).append(result)
        for (group, hearing), scores in table.items():
            print(f"{group} {hearing} ({len(scores)})")
            for measure in scores[0]:
                known = [v["f1"] if isinstance(v, dict) else v for v in (s[measure] for s in scores) if v is not None]
                print(f"  {measure:44}{np.mean(known):.3f}")
        if args.write:
            rounded = lambda x: {k: rounded(v) for k, v in x.items()} if isinstance(x, dict) else round(x, 3)  # noqa: E731
            OUT.write_text(HEAD + tomlkit.dumps(rounded(fit(rows, evidence))))


if __name__ == "__main__":
    main()
