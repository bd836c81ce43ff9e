#!/usr/bin/env python3
"""Count what mending gains and what it spoils on episodes with answers, and fit the weights of its evidence.

    python benchmarks/mending.py [--set practice] [--words heard.vtt] [--list] [--threshold T]
    python benchmarks/mending.py --fit           weights for trade/mending.toml, and what they are worth on episodes they were not fitted on
    python benchmarks/mending.py --usage         counts of how talk at the bench runs, from the true words of the talks alone

For each episode: trade terms heard (recall) and word error rate, raw and mended, the share of the lost terms that
came back (given twice: how many, and their share), and the mends that are right or wrong. A mend is right when the words it puts in were truly said within
three seconds of it, wrong otherwise; wrong ones are given per hundred trade terms said, too.
"""

import argparse
import json
import math
import pickle
import re
import sys
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "tests" / "scoring")]

import practice  # noqa: E402
import score as scoring  # noqa: E402

from pipeline.hearing.captions import read_captions  # noqa: E402
from pipeline.hearing.words import Heard, Word  # noqa: E402
from pipeline.mending import THRESHOLD, evidence, judge, mend  # noqa: E402
from pipeline.mending.candidates import find_pairs  # noqa: E402
from pipeline.mending.evidence import weigh  # noqa: E402
from pipeline.mending.scene import bare, look_over  # noqa: E402
from pipeline.mending.sentences import sentence_spans  # noqa: E402
from pipeline.mending.usage import FILE, Usage, misheard_key  # noqa: E402
from pipeline.mending.vocabulary import vocabulary  # noqa: E402
from pipeline.trade import data, load_trade  # noqa: E402

NEAR = 3.0  # seconds
HEARINGS = ("heard.vtt", "heard.json", "heard-base.json", "truth")
ENGLISH = ("tech_support", "trivia", "emotion", "ai")  # the other files of chatterbot-corpus are for testing
RIDGE = 4.0
# lower than fitted: the plain English of the fit holds few words that sound like parts, and what was misheard at the bench was talk of the bench
BY_HAND = {"off_bench": -2.0, "misheard * off_bench": -4.0}
TALK_FOLDS = 8  # the talks are left out by eighths, the episodes one by one
OTHER_VOICES = 4.0  # how often each candidate of an episode counts: the talks have all one voice and one speech model
MOST_WRONG = 3  # words in a row that one stretch was misheard as
LEAST = 2  # times that two words stood side by side in the talks


def folders(*sets: str) -> list[Path]:
    """Episodes of these sets that were heard."""
    return sorted({p.parent for s in sets for p in (HERE.parent / "sample_media" / s).glob("*/heard*")})


def usages() -> dict[str, Usage]:
    """How each of the talks runs, from its true words, and how it was heard; under "", all of them together."""
    found, said, trade = {}, {}, load_trade()
    words = {w for said in vocabulary(trade, "") for w in said.words}
    for folder in sorted(p.parent for p in (HERE.parent / "sample_media" / "talks").glob("*/script.yaml")):
        gold = practice.gold_of(folder)
        true = practice.true_words(gold)
        scene = look_over(true.words, sentence_spans(true), vocabulary(trade, gold["title"]), gold["title"])
        found[folder.name], said[folder.name] = Usage.of(scene), scene.words
        if (folder / "heard.vtt").exists():
            found[folder.name].counts.update(misheard([bare(w.text) for w in read_captions(folder / "heard.vtt").words], scene.words, words))
    wrong = {key.split(">")[1] for usage in found.values() for key in usage.counts if key[0] == ">"}
    for name, true in said.items():  # how often the same words were said rightly
        runs = (misheard_key(tuple(true[i : i + n])) for n in range(1, MOST_WRONG + 1) for i in range(len(true) - n + 1))
        found[name].counts.update(key for key in runs if key[1:] in wrong)
    found[""] = Usage(sum_of(usage.counts for usage in found.values()))
    return found


def sum_of(counters) -> Counter:
    total = Counter()
    for counts in counters:
        total.update(counts)
    return total


def differing(one: list[str], other: list[str]) -> list[tuple[int, int, int, int]]:
    """The stretches where two rows of words differ: first and end in the one, first and end in the other."""
    from rapidfuzz.distance import Levenshtein

    blocks: list[tuple[int, int, int, int]] = []
    for op in Levenshtein.opcodes(one, other):
        if op.tag != "equal":
            a, c = blocks.pop()[::2] if blocks and blocks[-1][1::2] == (op.src_start, op.dest_start) else (op.src_start, op.dest_start)
            blocks.append((a, op.src_end, c, op.dest_end))
    return blocks


def misheard(heard: list[str], true: list[str], words: set[str]) -> Counter:
    """What was written in place of what, where a word of the trade was said."""
    return Counter(misheard_key(tuple(heard[a:b]), tuple(true[c:d])) for a, b, c, d in differing(heard, true)
                   if 1 <= b - a <= MOST_WRONG and 1 <= d - c <= MOST_WRONG and all(heard[a:b]) and words & set(true[c:d]))


def usage_without(name: str, every: dict[str, Usage]) -> Usage:
    """What the talks but one have in common: pairs of words count that were said twice at least."""
    return (every[""] - every[name] if name and name in every else every[""]).seldom_left_out(LEAST)


def words_of(folder: Path, gold: dict, words: str) -> Heard:
    if words == "truth":
        return practice.true_words(gold)
    return practice.words_of_json(folder / words) if words.endswith(".json") else read_captions(folder / words)


def terms_said(gold: dict) -> int:
    return sum(len(e["at"]) for g in ("parts", "tools", "supplies") for e in gold[g])


def plain(text: str) -> list[str]:
    """Words for comparing, as the scorer compares them, no full stop on them; "holdin'" is holding."""
    return [w.strip(".") for w in scoring.plain(re.sub(r"in['’](?!\w)", "ing", text)).split() if w.strip(".")]


def truth_near(gold: dict, start: float, end: float) -> list[str]:
    said = " ".join(line["say"] for line in gold["lines"] if line["start"] <= end + NEAR and line["end"] >= start - NEAR)
    return plain(said)


def holds(words: list[str], said: str) -> int:
    return f" {' '.join(words)} ".count(f" {' '.join(plain(said))} ")


def without(episode: str, apart: dict, talks: dict[str, Usage]) -> None:
    """Let the program judge by what was fitted and counted without this episode."""
    data("mending").update(apart[episode])
    judge._weights.cache_clear()
    if talks:
        evidence.usage = lambda counts=usage_without(episode, talks): counts


def compare(args) -> None:
    trade, sums = load_trade(), Counter()
    apart = json.loads(args.apart.read_text()) if args.apart else {}
    talks = usages() if apart and args.set == "talks" else {}
    print(f"{'':16}{'terms':>6}{'raw':>7}{'mended':>8}{'lost':>6}{'back':>6}{'share':>7}{'wer raw':>9}{'mended':>8}{'right':>7}{'wrong':>7}{'per 100':>9}")
    for folder in folders(args.set):
        gold = practice.gold_of(folder)
        if apart:
            without(folder.name, apart, talks)
        heard = words_of(folder, gold, args.words)
        mended = mend(heard, trade, "" if args.no_title else gold["title"], args.threshold)
        rows = [s.model_dump(by_alias=True) for s in mended.sentences]
        raw_rows = [{**r, "text": r["heard"]} for r in rows]
        raw, new = list(scoring.terms_heard(gold, raw_rows)), list(scoring.terms_heard(gold, rows))
        wer = [scoring.score_hearing(gold, r)["word error rate (lower is better)"] for r in (raw_rows, rows)]
        right, wrong = [], []
        for s in mended.sentences:
            truth = truth_near(gold, s.start, s.end)
            for m in s.mends:
                if m.applied:
                    (right if holds(truth, m.to) else wrong).append((m.from_, m.to, m.confidence, s.heard))
        own = Counter(terms=len(raw), raw=sum(r[-1] for r in raw), new=sum(n[-1] for n in new), back=sum(n[-1] and not r[-1] for r, n in zip(raw, new)),
                      right=len(right), wrong=len(wrong), said=terms_said(gold), episodes=1, wer0=wer[0], wer1=wer[1],
                      written=sum(not r[-1] and any(re.sub(r"\W", "", name) in re.sub(r"\W", "", r[2]) for name in r[0]) for r in raw))
        sums += own
        print(row_of(folder.name[:15], own))
        if args.list:
            for name, found in (("wrong", wrong), ("right", right)):
                for a, b, c, text in found:
                    print(f"    {name} {c:.2f} {a!r} -> {b!r}   | {text[:110]}")
            for (spoken, line, text, was), (*_, now) in zip(raw, new):
                if not now:
                    print(f"    {'spoilt' if was else 'lost'} {spoken[0].strip()!r}   | {line[:90]}   | {text[:140]}")
    print(row_of("all", sums) + f"   of the lost, {sums['written']} were only written otherwise (\"hair pin\" for \"hairpin\")")


def row_of(name: str, n: Counter) -> str:
    lost = n["terms"] - n["raw"]
    return (f"{name:16}{n['terms']:6}{n['raw'] / n['terms']:7.3f}{n['new'] / n['terms']:8.3f}{lost:6}{n['back']:6}{n['back'] / max(1, lost):7.2f}"
            f"{n['wer0'] / n['episodes']:9.3f}{n['wer1'] / n['episodes']:8.3f}{n['right']:7}{n['wrong']:7}{100 * n['wrong'] / n['said']:9.2f}")


@dataclass
class Sample:
    """One candidate of one hearing, with its evidence and the answer."""

    episode: str
    words: str
    first: int
    last: int
    heard: str
    said: str
    evidence: dict[str, float]
    right: bool   # the words were said there, and stand there only with the mend
    said_near: bool


def plain_english(talk: Usage) -> list[Sample]:
    """Candidates in talk that is not of the bench: every one is wrong."""
    import chatterbot_corpus
    import yaml

    said, found = vocabulary(load_trade(), ""), []
    for name in ENGLISH:
        file = Path(chatterbot_corpus.__file__).parent / "data" / "english" / f"{name}.yml"
        lines = [line for talk in yaml.safe_load(file.read_text("utf-8"))["conversations"] for line in talk]
        words = [Word(text=w, start=0.3 * i, end=0.3 * i + 0.3) for i, w in enumerate(w for line in lines for w in line.split())]
        heard = Heard(words=words, breaks=[0], duration=words[-1].end, source="captions")
        scene = look_over(words, sentence_spans(heard), said)
        found += [Sample(name, "english", a, b, " ".join(p.heard), p.said.text, e, False, False)
                  for a, b, p, e in weigh(scene, find_pairs(scene, said, {}), talk)]
    return found


def samples(folder: Path, talk: Usage) -> list[Sample]:
    from rapidfuzz.distance import Levenshtein

    gold, trade, found = practice.gold_of(folder), load_trade(), []
    said = vocabulary(trade, gold["title"])
    for words in HEARINGS:
        if words != "truth" and not (folder / words).exists():
            continue
        heard = words_of(folder, gold, words)
        rows = heard.words
        scene = look_over(rows, sentence_spans(heard), said, gold["title"])
        texts = [plain(w.text) for w in rows]
        for first, last, pair, evidence in weigh(scene, find_pairs(scene, said, {}), talk):
            start, end = rows[first].start, rows[last - 1].end
            truth = truth_near(gold, start, end)
            a = next(i for i in range(first, -1, -1) if i == 0 or rows[i].end < start - NEAR)
            b = next(i for i in range(last, len(rows) + 1) if i == len(rows) or rows[i].start > end + NEAR)
            before = [w for ws in texts[a:b] for w in ws]
            after = [w for ws in (*texts[a:first], plain(pair.said.text), *texts[last:b]) for w in ws]
            near = holds(truth, pair.said.text)
            better = Levenshtein.distance(after, truth) - Levenshtein.distance(before, truth)
            found.append(Sample(folder.name, words, first, last, " ".join(pair.heard), pair.said.text, evidence,
                                near > holds(before, pair.said.text) and better <= 0, near > 0))
    return found


def fitted(rows: np.ndarray, right: np.ndarray, counts: np.ndarray, held: float = RIDGE, known: np.ndarray | None = None) -> np.ndarray:
    """Weights of a logistic model, ridge on standardised evidence; the last is the constant. Each row counts `counts` times.

    `known`: log odds of each row as known before. The weights are then what comes on top, ridge on the evidence as it is: what is rare must not move far.
    """
    from scipy.optimize import minimize
    from scipy.special import expit

    middle, spread = (rows.mean(0), rows.std(0)) if known is None else (np.zeros(rows.shape[1]), np.ones(rows.shape[1]))
    spread[spread == 0] = 1.0
    known = 0.0 if known is None else known
    x, ridge = np.c_[(rows - middle) / spread, np.ones(len(rows))], np.r_[[held] * rows.shape[1], 1e-6]

    def loss(w: np.ndarray) -> tuple[float, np.ndarray]:
        z = x @ w + known
        return counts @ (np.logaddexp(0, z) - right * z) + 0.5 * ridge @ w**2, x.T @ (counts * (expit(z) - right)) + ridge * w

    w = minimize(loss, np.zeros(x.shape[1]), jac=True, method="L-BFGS-B", options={"maxiter": 2000}).x
    return np.r_[w[:-1] / spread, w[-1] - (w[:-1] * middle / spread).sum()]


def standing(found: list[Sample], sure: np.ndarray) -> list[int]:
    """Of candidates of one hearing that overlap, the surest."""
    taken, out = set(), []
    for n in sorted(range(len(found)), key=lambda n: -sure[n]):
        place = set(range(found[n].first, found[n].last))
        if not taken & place:
            taken |= place
            out.append(n)
    return out


def fit(args) -> None:
    every = folders("practice", "unseen", "talks")
    if args.kept and args.kept.exists():
        found = pickle.loads(args.kept.read_bytes())
    else:
        talks = usages()
        with ProcessPoolExecutor() as pool:
            found = [s for some in pool.map(samples, every, (usage_without(folder.name, talks) for folder in every)) for s in some]
        found += plain_english(usage_without("", talks))
        if args.kept:
            args.kept.write_bytes(pickle.dumps(found))
    names = [n for n in (*found[0].evidence, *(n for n in data("mending")["weights"] if " * " in n)) if n not in (args.without or "").split(",")]
    rows = np.array([[math.prod(float(s.evidence[part]) for part in n.split(" * ")) for n in names] for s in found])
    right, episode = np.array([s.right for s in found], float), np.array([s.episode for s in found])
    sure, apart = np.zeros(len(found)), {}
    heard_talks = [f.name for f in folders("talks")]
    fold = {name: heard_talks.index(name) % TALK_FOLDS if name in heard_talks else name for name in episode}
    group = np.array([str(fold[name]) for name in episode])
    counts = np.array([1.0 if s.episode in heard_talks or s.words == "english" else OTHER_VOICES for s in found])
    for name in sorted(set(group)):
        w = fitted(rows[group != name], right[group != name], counts[group != name])
        apart |= {e: {"at_first": w[-1], "weights": dict(zip(names, w)) | BY_HAND} for e in set(episode[group == name])}
        sure[group == name] = 1 / (1 + np.exp(-np.clip(rows[group == name] @ w[:-1] + w[-1], -30, 30)))
    p = np.clip(sure, 1e-6, 1 - 1e-6)
    print(f"each episode, and each eighth of the talks, judged by weights fitted on all the others; log loss {-(right * np.log(p) + (1 - right) * np.log(1 - p)).sum():.0f}\n")
    terms = sum(terms_said(practice.gold_of(f)) for f in every)
    print(f"{'threshold':18}" + "".join(f"{t:>16}" for t in (0.3, 0.4, 0.5, 0.6, 0.75)))
    for words in HEARINGS:
        judged = []
        for folder in every:
            own = [n for n, s in enumerate(found) if s.episode == folder.name and s.words == words]
            judged += [own[k] for k in standing([found[n] for n in own], sure[own])]
        cells = []
        for t in (0.3, 0.4, 0.5, 0.6, 0.75):
            made = [found[n] for n in judged if sure[n] >= t]
            cells.append(f"{sum(s.right for s in made)} r {100 * sum(not s.said_near for s in made) / terms:.2f} w%")
        print(f"{words:18}" + "".join(f"{c:>16}" for c in cells))
        if args.list:
            for n in judged:
                if (sure[n] >= args.threshold) != found[n].right and (found[n].right or not found[n].said_near):
                    s = found[n]
                    print(f"    {'missed' if s.right else 'wrong '} {sure[n]:.2f} {s.episode[:10]:10} {s.heard!r} -> {s.said!r}")
    if args.apart:
        args.apart.write_text(json.dumps(apart))
    w = fitted(rows, right, counts)
    print(f"\nat_first = {w[-1]:.2f}\n\n[weights]\n" + "\n".join((f'"{n}"' if " * " in n else n) + f" = {x:.2f}" for n, x in (dict(zip(names, w)) | BY_HAND).items()))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--set", default="practice")
    parser.add_argument("--words", default="heard.vtt", help="heard.vtt, heard.json, heard-base.json or truth")
    parser.add_argument("--threshold", type=float, default=THRESHOLD)
    parser.add_argument("--no-title", action="store_true")
    parser.add_argument("--list", action="store_true")
    parser.add_argument("--fit", action="store_true")
    parser.add_argument("--usage", action="store_true")
    parser.add_argument("--without", metavar="NAMES", help="fit without this evidence")
    parser.add_argument("--apart", type=Path, metavar="FILE",
                        help="with --fit, also write each episode's weights of all the others there; else judge each episode by them")
    parser.add_argument("--kept", type=Path, metavar="FILE", help="with --fit, the evidence is kept there, and taken from there the next time")
    args = parser.parse_args()
    if args.usage:
        usage_without("", usages()).write(FILE)
    elif args.fit:
        fit(args)
    else:
        compare(args)


if __name__ == "__main__":
    main()
