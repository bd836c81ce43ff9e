#!/usr/bin/env python3
"""The lists of parts, tools and supplies alone, on the true words of many talks: the rules and word files, without the trained reader.

    python benchmarks/lists.py                    means of F1 over the talks (three minutes)
    python benchmarks/lists.py --every 4          over every fourth
    python benchmarks/lists.py --names            and which names are wrong more often than right, and which are missed
    python benchmarks/lists.py --say "zip bag"    every sentence that was read as naming this, right (+) or not (-)

The talks' answers were written by many hands; some list what is only named, some what is used.
"""

import argparse
import sys
from collections import Counter, defaultdict
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "tests" / "scoring"), str(HERE), str(HERE.parent / "sample_media" / "practice")]

import score as scoring  # noqa: E402
from practice import MEDIA, gold_of  # noqa: E402

from pipeline.arranging.lists import list_terms  # noqa: E402
from pipeline.reading import _english  # noqa: E402
from pipeline.reading.talk import Talk  # noqa: E402
from pipeline.reading.terms import find_mentions  # noqa: E402
from pipeline.record import Sentence  # noqa: E402
from pipeline.trade import load_trade  # noqa: E402

GROUPS = {"part": "parts", "tool": "tools", "supply": "supplies"}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--every", type=int, default=1, metavar="N")
    parser.add_argument("--names", action="store_true")
    parser.add_argument("--say", metavar="NAME")
    args = parser.parse_args()
    trade, right, wrong, missed, scores = load_trade(), Counter(), Counter(), Counter(), defaultdict(list)
    for folder in sorted(p.parent for p in (MEDIA / "talks").glob("*/script.yaml"))[::args.every]:
        gold = gold_of(folder)
        said = [Sentence(id=f"s{i}", start=line["start"], end=line["end"], text=line["say"], heard=line["say"]) for i, line in enumerate(gold["lines"])]
        mentions = find_mentions(Talk.of(said, _english(), trade, gold["title"]))
        found = list_terms(mentions, trade)
        for one, group in GROUPS.items():
            rows = [{"name": row.name, "names": row.names} for row in getattr(found, group)]
            scores[group].append(scoring.score_names(gold[group], rows)["f1"])
            wanted = [scoring.accepted(row["names"]) for row in gold[group]]
            called = {row["name"]: scoring.accepted([row["name"], *row["names"]]) for row in rows}
            is_right = {name: any(names & want for want in wanted) for name, names in called.items()}
            right.update((group, name) for name, ok in is_right.items() if ok)
            wrong.update((group, name) for name, ok in is_right.items() if not ok)
            missed.update((group, row["names"][0]) for row, want in zip(gold[group], wanted) if not any(want & names for names in called.values()))
            for m in mentions if args.say else ():
                if m.group == one and m.name == args.say:
                    print("+" if is_right[m.name] else "-", folder.name, m.surface, "|", said[int(m.sentence[1:])].text)
    for group, values in scores.items():
        print(f"{group:9} F1 {sum(values) / len(values):.4f} of {len(values)} talks")
    if args.names:
        for group in scores:
            doubtful = sorted((n for (g, n), c in wrong.items() if g == group and c >= 3 and right[g, n] < 0.6 * c), key=lambda n: right[group, n] - wrong[group, n])
            print(f"{group}, wrong more often than right:", ", ".join(f"{n} {wrong[group, n]} of {wrong[group, n] + right[group, n]}" for n in doubtful))
            print(f"{group}, missed:", ", ".join(f"{n} {c}" for (g, n), c in missed.most_common() if g == group and c >= 5))


if __name__ == "__main__":
    main()
