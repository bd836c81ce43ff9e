#!/usr/bin/env python3
"""What mending tells by place (counts, stacks, orders, places): how often right on heard episodes, and what it would change in true words.

    python benchmarks/places.py           totals, and each change that looks wrong
    python benchmarks/places.py --list    every change
"""

import re
import sys
from collections import Counter

from practice import MEDIA, gold_of, hearings

from pipeline.mending import BY_PLACE
from pipeline.mending.sentences import sentence_spans

NEAR = 2.0   # seconds: the script's lines that near a change are what was said


def main() -> None:
    found: Counter[tuple[str, bool, bool]] = Counter()
    for folder in sorted(p.parent for s in ("practice", "unseen", "talks") for p in (MEDIA / s).glob("*/script.yaml")):
        gold = gold_of(folder)
        for how, heard in hearings(folder, gold).items():
            spans = sentence_spans(heard)
            for look in BY_PLACE:
                for first, last, text, _, _ in look(heard.words, spans):
                    at = heard.words[first].start
                    said = " ".join(line["say"] for line in gold["lines"] if line["start"] - NEAR <= at <= line["end"] + NEAR)
                    right = how != "truth" and bool(re.search(rf"\b{re.escape(text)}\b", said, re.IGNORECASE))
                    found[look.__name__, how == "truth", right] += 1
                    if not right or "--list" in sys.argv:
                        around = " ".join(w.text for w in heard.words[max(0, first - 5):last + 5])
                        print(f"{'right' if right else 'wrong?'}  {look.__name__}  {folder.name}, {how}: {around} => {text}")
    for look in BY_PLACE:
        n = look.__name__
        print(f"{n}: heard {found[n, False, True]} right, {found[n, False, False]} wrong or not told; true words {found[n, True, False]} changed")


if __name__ == "__main__":
    main()
