#!/usr/bin/env python3
"""Count what mending gains and what it spoils on episodes with answers.

    python benchmarks/mending.py [--set practice] [--words heard.vtt] [--list] [--threshold 0.75]

For each episode: trade terms heard (recall) and word error rate, raw and mended, the share of the lost terms that
came back, and the mends that are right or wrong. A mend is right when the words it puts in were truly said within
three seconds of it, wrong otherwise. Mends per hundred trade terms said are given, too.
"""

import argparse
import json
import re
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "tests" / "scoring")]

import practice  # noqa: E402
import score as scoring  # noqa: E402

from pipeline.hearing.captions import read_captions  # noqa: E402
from pipeline.mending import mend  # noqa: E402
from pipeline.trade import load_trade  # noqa: E402


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--set", default="practice")
    parser.add_argument("--words", default="heard.vtt")
    parser.add_argument("--threshold", type=float, default=0.75)
    parser.add_argument("--no-title", action="store_true")
    parser.add_argument("--list", action="store_true")
    args = parser.parse_args()
    trade = load_trade()
    print(f"{'':16}{'terms raw':>10}{'mended':>8}{'back':>7}{'wer raw':>9}{'mended':>8}{'right':>7}{'wrong':>7}{'per 100':>9}")
    for folder in sorted(p.parent for p in (HERE.parent / "sample_media" / args.set).glob("*/gold.json")):
        gold = json.loads((folder / "gold.json").read_text())
        heard = practice.words_of_json(folder / args.words) if args.words.endswith(".json") else read_captions(folder / args.words)
        mended = mend(heard, trade, "" if args.no_title else gold["title"], args.threshold)
        rows = [s.model_dump(by_alias=True) for s in mended.sentences]
        raw = scoring.score_hearing(gold, [{**r, "text": r["heard"]} for r in rows])
        new = scoring.score_hearing(gold, rows)
        right, wrong = [], []
        for s in mended.sentences:
            truth = scoring.plain(" ".join(line["say"] for line in gold["lines"] if line["start"] <= s.end + 3 and line["end"] >= s.start - 3))
            for m in s.mends:
                if m.applied:
                    ok = re.search(rf"\b{re.escape(scoring.plain(m.to))}\b", truth)
                    (right if ok else wrong).append((m.from_, m.to, m.confidence, s.heard))
        t0, t1 = raw["trade terms heard (recall)"], new["trade terms heard (recall)"]
        w0, w1 = raw["word error rate (lower is better)"], new["word error rate (lower is better)"]
        terms = sum(len(e["at"]) for g in ("parts", "tools", "supplies") for e in gold[g])
        print(f"{folder.name[:15]:16}{t0:10.3f}{t1:8.3f}{(t1 - t0) / (1 - t0) if t0 < 1 else 0:7.2f}{w0:9.3f}{w1:8.3f}{len(right):7}{len(wrong):7}{100 * len(wrong) / terms:9.1f}")
        if args.list:
            for name, row in (("wrong", wrong), ("right", right)):
                for a, b, c, text in row:
                    print(f"    {name} {c:.2f} {a!r} -> {b!r}   | {text[:110]}")


if __name__ == "__main__":
    main()
