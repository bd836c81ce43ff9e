#!/usr/bin/env python3
"""Chapters beside yardsticks, on every episode with answers, from heard.vtt.

    python benchmarks/chapters.py            the table, as kept in chapters.md

Ours as shipped; NLTK's TextTiling; evenly spaced, as many as there truly are; and a cut by sentence vectors alone (wordllama,
whose small model ships in its package): the deepest valleys of likeness between what is said before and after. The yardsticks
are told what we are not: how many chapters there truly are. Needs wordllama and segeval.
"""

import json
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "tests" / "scoring"), str(HERE)]

import numpy as np  # noqa: E402
import score as scoring  # noqa: E402
import segeval  # noqa: E402
from practice import MEDIA  # noqa: E402

from pipeline.arranging.chapters import find_chapters  # noqa: E402
from pipeline.hearing.captions import read_captions  # noqa: E402
from pipeline.mending import mend  # noqa: E402
from pipeline.reading import read  # noqa: E402
from pipeline.trade import load_trade  # noqa: E402

AROUND = 30.0  # seconds of talk to each side whose vectors are compared


def by_vectors(sentences, count: int, model) -> list[float]:
    """The starts of `count` chapters after the first, at the deepest valleys of likeness."""
    vectors = model.embed([s.text for s in sentences])
    starts = np.array([s.start for s in sentences])
    depth = np.zeros(len(sentences))
    for i in range(1, len(sentences)):
        before = vectors[(starts >= starts[i] - AROUND) & (starts < starts[i])].sum(0)
        after = vectors[(starts >= starts[i]) & (starts < starts[i] + AROUND)].sum(0)
        depth[i] = 1 - before @ after / max(1e-9, np.linalg.norm(before) * np.linalg.norm(after))
    chosen: list[float] = []
    for i in np.argsort(-depth):
        if len(chosen) < count and starts[i] >= 10 and all(abs(starts[i] - c) >= 20 for c in chosen):
            chosen.append(float(starts[i]))
    return sorted(chosen)


def measures(gold: dict, starts: list[float]) -> tuple[float, ...]:
    """F1 at ±10 s, Pk and WindowDiff by nltk as the scorer has them, Pk and WindowDiff by segeval, boundary similarity by segeval."""
    lines, wanted = gold["lines"], [c["start"] for c in gold["chapters"] if c["start"] > 1]
    s = scoring.score_chapters(gold["chapters"], [{"start": 0.0, "phase": ""}, *({"start": x, "phase": ""} for x in starts)], lines)
    truth, guess = (scoring.boundaries_to_mask(x, lines) for x in (wanted, starts))
    k = max(2, round(len(truth) / (2 * (truth.count("1") + 1))))
    true, made = (tuple(len(p) + 1 for p in m.split("1")) for m in (truth, guess))
    return (s["chapters"]["f1"], s["chapters Pk (lower is better)"], s["chapters WindowDiff (lower is better)"],
            float(segeval.pk(made, true, window_size=k)), float(segeval.window_diff(made, true, window_size=k)), float(segeval.boundary_similarity(made, true)), len(starts))


def main() -> None:
    import wordllama

    scoring_texttiling, scoring.texttiling = scoring.texttiling, lambda lines: None
    # it seeks the tokenizer beside the weights, in a folder named otherwise than the one it ships
    model = wordllama.WordLlama.load(cache_dir=Path(wordllama.__file__).parent, disable_download=True)
    trade, table = load_trade(), {}
    for path in sorted(MEDIA.glob("*/*/heard.vtt")):
        gold = json.loads((path.parent / "gold.json").read_text())
        mended = mend(read_captions(path), trade, gold["title"])
        sentences, wanted = mended.sentences, [c["start"] for c in gold["chapters"] if c["start"] > 1]
        ours = [c.start for c in find_chapters(sentences, read(sentences, trade, gold["title"]), trade) if c.start > 1]
        ways = {"ours, as shipped": ours, "TextTiling (nltk)": scoring_texttiling(gold["lines"]) or [],
                "sentence vectors (wordllama)": by_vectors(sentences, len(wanted), model),
                "evenly spaced": [gold["lines"][-1]["end"] * (i + 1) / (len(wanted) + 1) for i in range(len(wanted))]}
        for way, starts in ways.items():
            table.setdefault(way, {}).setdefault(path.parent.parent.name, []).append((path.parent.name, measures(gold, starts)))
    print("| set | way | F1 at ±10 s | Pk | WindowDiff | Pk (segeval) | WindowDiff (segeval) | boundary similarity | chapters |")
    print("| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |")
    for group in sorted({g for sets in table.values() for g in sets}):
        for way, sets in table.items():
            mean = np.mean([m for _, m in sets.get(group, [])], 0)
            print(f"| {group} | {way} | " + " | ".join(f"{v:.3f}" for v in mean[:6]) + f" | {mean[6]:.1f} |")


if __name__ == "__main__":
    main()
