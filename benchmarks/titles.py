#!/usr/bin/env python3
"""A blind comparison of chapter titles: the hosts' own beside ours, in an order that does not tell which is which.

    python benchmarks/titles.py [--set practice] [--out DIR]   writes DIR/sheet.md and, apart from it, DIR/key.json (default: titles/ beside this)
    python benchmarks/titles.py --judge DIR/votes.json         counts votes: {"12": "a" | "b" | "both" | "neither"}, which of a row would be published

A row is a chapter that both have (starts within ten seconds of each other), with all that is said in it, so that titles alone are
compared. Where one of the two begins earlier or ends later, ‖ stands between.
"""

import argparse
import json
import random
import sys
from itertools import pairwise
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE)]

from practice import MEDIA  # noqa: E402

from pipeline.chain import record_of  # noqa: E402
from pipeline.hearing.captions import read_captions  # noqa: E402
from pipeline.trade import load_trade  # noqa: E402


def rows(sets: list[str]) -> list[dict]:
    out, trade = [], load_trade()
    for folder in sorted(p.parent for s in sets for p in (MEDIA / s).glob("*/heard.vtt")):
        gold = json.loads((folder / "gold.json").read_text())
        record = record_of(read_captions(folder / "heard.vtt"), trade, id=folder.name, title=gold["title"])
        ends = [c["start"] for c in gold["chapters"][1:]] + [gold["duration"]]
        for true, end in zip(gold["chapters"], ends):
            ours = min(record.chapters, key=lambda c: abs(c.start - true["start"]))
            if abs(ours.start - true["start"]) <= 10:
                our_end = min((c.start for c in record.chapters if c.start > ours.start), default=gold["duration"])
                said = [[line["say"] for line in gold["lines"] if first <= line["start"] + 0.5 < last]
                        for first, last in pairwise([*sorted((true["start"], ours.start)), *sorted((end, our_end))])]
                said = " ‖ ".join(" ".join(part) for part in said if part)
                out.append({"episode": folder.name, "said": said, "true": true["title"], "ours": ours.title})
    return out


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--set", action="append", metavar="NAME", help="the folders under sample_media (default: practice and unseen)")
    parser.add_argument("--out", type=Path, default=HERE / "titles")
    parser.add_argument("--judge", type=Path, metavar="VOTES")
    args = parser.parse_args()
    if args.judge:
        key, votes = json.loads((args.judge.parent / "key.json").read_text()), json.loads(args.judge.read_text())
        for who in ("true", "ours"):
            taken = sum(vote == "both" or vote in "ab" and key[n][vote] == who for n, vote in votes.items())
            print(f"{who}: {taken} of {len(votes)} would be published as they are ({taken / len(votes):.2f})")
        return
    found = rows(args.set or ["practice", "unseen"])
    # another order for every other program, so that no sheet tells of the one before
    chance, sheet, key = random.Random(json.dumps(found)), ["# Which of the two would you publish? a, b, both or neither", ""], {}
    chance.shuffle(found)
    for n, row in enumerate(found, 1):
        first = chance.choice(("true", "ours"))
        second = "ours" if first == "true" else "true"
        key[str(n)] = {"a": first, "b": second, "episode": row["episode"]}
        sheet += [f"{n}. *{row['said']}*", f"   - a: {row[first]}", f"   - b: {row[second]}", ""]
    args.out.mkdir(parents=True, exist_ok=True)
    (args.out / "sheet.md").write_text("\n".join(sheet))
    (args.out / "key.json").write_text(json.dumps(key, indent=1) + "\n")
    print(f"{len(found)} rows in {args.out / 'sheet.md'}")


if __name__ == "__main__":
    main()
