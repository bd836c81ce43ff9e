#!/usr/bin/env python3
"""Where sentences end in talk that has lost its stops: fit what speaks for an end, and measure it on episodes left out.

    python benchmarks/stops.py             a fifth of the episodes left out: how well their ends are found again, with commas for stops and with nothing at all
    python benchmarks/stops.py --write     fit on all, write pipeline/mending/stops.txt.gz
    python benchmarks/stops.py --pauses    how long the pauses at stops and at commas are in the practice and unseen footage

From the true words of every annotated script but the blind ones. Needs scikit-learn, as a tool for fitting only.
"""

import argparse
import random
import re
import sys
from collections import Counter
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE), str(HERE / "teach")]

import numpy as np  # noqa: E402
from practice import MEDIA, gold_of, words_of_json  # noqa: E402

from pipeline.hearing.words import Heard, Word  # noqa: E402
from pipeline.mending import sentences  # noqa: E402
from pipeline.mending.tables import write_table  # noqa: E402

FOLDS, OFTEN, LIGHT, HOLD = 5, 5, 0.05, 0.2  # a sign counts from five times on and is kept from this weight on; HOLD: scikit-learn's C


def talks() -> dict[str, list[tuple[str, str]]]:
    """Every script's words with the mark after each: a stop, a comma or nothing."""
    out = {}
    for path in sorted(p for s in ("practice", "unseen", "talks") for p in (MEDIA / s).glob("*/script.yaml")):
        row = []
        for line in gold_of(path.parent)["lines"]:
            for word in line["say"].split():
                mark = re.search(r"([.?!]|[,;:—-])[\"')]*$", word)
                if plain := sentences.unmarked(word):
                    row.append((plain, "." if mark and mark[1] in ".?!" else "," if mark else ""))
            row[-1] = (row[-1][0], ".")
        out[path.parent.name] = row
    return out


def fit(rows: list[list[tuple[str, str]]], comma: bool) -> dict[str, float]:
    """What each sign weighs, and the constant under the kind alone: among marks where a comma stands, among all words where none does."""
    from scipy.sparse import csr_matrix
    from sklearn.linear_model import LogisticRegression

    seen, ends = [], []
    for row in rows:
        plain = [w for w, _ in row]
        for i, (_, mark) in enumerate(row[:-1]):
            if mark or not comma:
                seen.append(sentences.signs(plain, i))
                ends.append(mark == ".")
    often = Counter(s for r in seen for s in r)
    names = {s: n for n, s in enumerate(sorted(s for s, k in often.items() if k >= OFTEN))}
    at = [[names[s] for s in r if s in names] for r in seen]
    table = csr_matrix((np.ones(sum(map(len, at))), np.concatenate(at), np.cumsum([0, *map(len, at)])), shape=(len(at), len(names)))
    model = LogisticRegression(C=HOLD, max_iter=400).fit(table, ends)
    kind = "," if comma else " "
    return {kind: float(model.intercept_[0])} | {kind + s: float(w) for s, w in zip(names, model.coef_[0]) if abs(w) >= LIGHT}


def found_again(row: list[tuple[str, str]], comma: bool) -> tuple[int, int, int]:
    """Ends found rightly, found, and true, in a talk said without a pause: every mark a comma, or no mark at all."""
    words = [Word(text=w + ("," if comma and mark else ""), start=0.3 * n, end=0.3 * n + 0.3, probability=1.0) for n, (w, mark) in enumerate(row)]
    got = {b for _, b in sentences.sentence_spans(Heard(words=words, breaks=[0], duration=words[-1].end, source="speech"))}
    true = {n + 1 for n, (_, mark) in enumerate(row) if mark == "."}
    return len(got & true), len(got), len(true)


def pauses() -> None:
    count = Counter()
    for path in sorted(p for s in ("practice", "unseen") for p in (MEDIA / s).glob("*/heard-base.json")):
        words = words_of_json(path).words
        for a, b in zip(words, words[1:]):
            kind = "stop" if a.text[-1] in ".?!" else "comma" if a.text[-1] in ",;:" else "none"
            count.update([kind, (kind, b.start - a.end > sentences.PAUSE)])
    for kind in ("stop", "comma", "none"):
        print(f"{kind}: {count[kind]}, {count[kind, True] / count[kind]:.3f} with a pause over {sentences.PAUSE} s")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--pauses", action="store_true")
    args = parser.parse_args()
    if args.pauses:
        return pauses()
    rows = talks()
    if args.write:
        weights = fit(list(rows.values()), True) | fit(list(rows.values()), False)
        write_table(sentences.FILE, {sign: round(weight, 2) for sign, weight in weights.items()})
        print(f"{len(weights)} weights, {sentences.FILE.stat().st_size} bytes")
        return
    names = sorted(rows)
    random.Random(1).shuffle(names)
    out = names[::FOLDS]
    left = [rows[n] for n in names if n not in out]
    weights = fit(left, True) | fit(left, False)
    sentences._weights = lambda: weights
    for comma in (True, False):
        right, got, true = np.sum([found_again(rows[n], comma) for n in out], 0)
        print(f"{'commas' if comma else 'no marks'}: {true} ends in {len(out)} talks, {got} found, {right / got:.3f} of these right, {right / true:.3f} of the ends found")


if __name__ == "__main__":
    main()
