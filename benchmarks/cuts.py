#!/usr/bin/env python3
"""Are the picture's cuts found, and what do they cost?

    python benchmarks/cuts.py             the demo film, one moving camera: every cut found there is false
    python benchmarks/cuts.py --hour DIR  films of an hour made from its pictures, with a cut a minute at known moments, in DIR (kept):
                                          another view, a fade through black, the same view again; a hand moves, the camera drifts
    python benchmarks/cuts.py --chapters  the blind talks with cuts set by chance, at openings and elsewhere: what they do to chapters

Needs ffmpeg.
"""

import argparse
import random
import resource
import subprocess
import sys
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "tests" / "scoring"), str(HERE)]

from pipeline.hearing.footage import probe  # noqa: E402
from pipeline.looking.cuts import find_cuts  # noqa: E402

DEMO = HERE.parent / "sample_media" / "demo" / "demo.mp4"
EVERY, VIEWS = 60, (12, 60, 100, 150, 200)  # seconds a view, and the moments of the demo film that are the views
WAYS = {"as a phone writes it (a key frame every second)": ("hour-phone.mp4", "-g 30 -sc_threshold 0"),
        "as a web video (a key frame every 5 s and at cuts)": ("hour-web.mp4", "-g 150")}


def hour_of(folder: Path, name: str, keys: str) -> Path:
    """Five minutes of five views, twelve times. The third view comes and goes through black, the fifth is the fourth with its things moved."""
    long, once = folder / name, folder / f"once-{name}"
    if long.exists():
        return long
    inputs, parts = [], []
    for i, at in enumerate(VIEWS):
        picture = folder / f"{at}.png"
        subprocess.run(["ffmpeg", "-v", "error", "-y", "-ss", str(at), "-i", str(DEMO), "-frames:v", "1", "-vf", "scale=1980:1114", str(picture)], check=True)
        inputs += ["-loop", "1", "-framerate", "30", "-t", str(EVERY), "-i", str(folder / f"{VIEWS[3]}.png" if i == 4 else picture)]
        fade = f",fade=in:0:15,fade=out:{EVERY * 30 - 15}:15" if i == 2 else ""
        moved = ",drawbox=300:500:260:260:0x8899aa:fill,drawbox=1200:200:200:300:0x553311:fill" if i == 4 else ""
        parts.append(f"[{i}:v]format=yuv420p{moved},crop=1920:1080:x='30+28*sin(t/3)':y='17+16*sin(t/4)'[b{i}];color=0xc08a70:s=260x380:r=30:d={EVERY}[h{i}];"
                     f"[b{i}][h{i}]overlay=x='800+420*sin(1.3*t)':y='560+200*sin(2.1*t)'{fade}[v{i}]")
    graph = ";".join(parts) + ";" + "".join(f"[v{i}]" for i in range(len(VIEWS))) + f"concat=n={len(VIEWS)}:v=1[o]"
    subprocess.run(["ffmpeg", "-v", "error", "-y", *inputs, "-filter_complex", graph, "-map", "[o]", *keys.split(), "-preset", "ultrafast", "-crf", "24",
                    "-maxrate", "12M", "-bufsize", "24M", str(once)], check=True)
    subprocess.run(["ffmpeg", "-v", "error", "-y", "-stream_loop", "11", "-i", str(once), "-c", "copy", str(long)], check=True)
    return long


def looked_at(film: Path, truth: list[float]) -> None:
    clip, began = probe(film), time.process_time()
    found = find_cuts([clip])
    seconds, left = time.process_time() - began, list(found)
    hit = 0
    for at in truth:
        near = min(left, key=lambda t: abs(t - at), default=None)
        if near is not None and abs(near - at) <= 1.0:
            left.remove(near)
            hit += 1
    print(f"{film.name}, {clip.duration:.0f} s: {hit} of {len(truth)} cuts found, {len(left)} false {left[:8]}, {seconds:.1f} processor s, "
          f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB at most", flush=True)


def chapters() -> None:
    """F1 at 10 s, Pk and WindowDiff of the blind talks, true words; twenty draws of each way to cut the film. Totals only."""
    import numpy as np
    import score as scoring
    from practice import MEDIA, gold_of, true_words

    from pipeline.arranging.chapters import find_chapters
    from pipeline.mending import mend
    from pipeline.reading import read
    from pipeline.trade import load_trade

    scoring.texttiling = lambda lines: None
    trade, chance, table = load_trade(), random.Random(5), {}

    def drawn(share: float, others: int, gold: dict) -> list[float]:
        """Cuts at this share of the openings, and so many times as many elsewhere."""
        starts = [c["start"] for c in gold["chapters"][1:]]
        at = [t + chance.uniform(-1, 1) for t in starts if chance.random() < share]
        return sorted(at + [chance.uniform(0, gold["duration"]) for _ in range(round(others * len(starts) / 3))])

    ways = {"no cuts": lambda gold: [], "at one opening in three, twice as many elsewhere": lambda gold: drawn(1 / 3, 2, gold),
            "at one opening in three, none elsewhere": lambda gold: drawn(1 / 3, 0, gold), "as many, all by chance": lambda gold: drawn(0, 3, gold),
            "every 4 s": lambda gold: list(np.arange(2.0, gold["duration"], 4.0))}
    for folder in sorted(p.parent for p in (MEDIA / "blind").glob("*/script.yaml")):
        gold = gold_of(folder)
        sentences = mend(true_words(gold), trade, gold["title"]).sentences
        findings = read(sentences, trade, gold["title"])
        for way, cuts in ways.items():
            for _ in range(20 if "one" in way or "many" in way else 1):
                found = find_chapters(sentences, findings, trade, cuts=cuts(gold))
                s = scoring.score_chapters(gold["chapters"], [{"start": c.start, "phase": c.phase} for c in found], gold["lines"])
                table.setdefault(way, []).append((s["chapters"]["f1"], s["chapters Pk (lower is better)"], s["chapters WindowDiff (lower is better)"], len(found) - 1))
    for way, rows in table.items():
        print(f"| {way} | " + " | ".join(f"{v:.3f}" for v in np.mean(rows, 0)[:3]) + f" | {np.mean(rows, 0)[3]:.1f} |")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--hour", type=Path, metavar="DIR")
    parser.add_argument("--chapters", action="store_true")
    args = parser.parse_args()
    if args.hour:
        args.hour.mkdir(parents=True, exist_ok=True)
        for how, (name, keys) in WAYS.items():
            film = hour_of(args.hour, name, keys)
            print(how, end=": ")
            looked_at(film, [float(t) for t in range(EVERY, 3600, EVERY)])
    elif args.chapters:
        chapters()
    else:
        looked_at(DEMO, [])


if __name__ == "__main__":
    main()
