#!/usr/bin/env python3
"""Time the whole chain, stage by stage, and set it against faster-whisper alone on the same file.

    python benchmarks/chain.py [--footage FILE] [--beam N]    a table, scaled to one hour of footage
    python benchmarks/chain.py --hours 1                      the practice episodes' footage end to end, as often as it takes

Without either it takes a practice episode's, so that what is loaded once counts as often as the episode fits into an hour. Each side runs in a process of its own, one after the other: ours through a
fresh shop from footage to published files; faster-whisper alone with the same model, called with nothing set. Wall seconds, processor
seconds, and the most memory that the process had held by the end of each stage.
"""

import argparse
import contextlib
import json
import math
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))
PRACTICE = HERE.parent / "sample_media" / "practice"


def memory() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def ours(footage: Path, beam: int | None) -> dict:
    from pipeline import runner
    from pipeline.hearing.footage import probe
    from pipeline.shop import Shop

    stages = {}

    @contextlib.contextmanager
    def tell(stage):
        began, used = time.perf_counter(), time.process_time()
        yield lambda done, total: None
        stages[stage] = {"wall": time.perf_counter() - began, "cpu": time.process_time() - used, "memory": memory()}

    with tempfile.TemporaryDirectory() as folder:
        shop = Shop.make(Path(folder) / "shop")
        if beam:
            shop.settings.hearing.beam_size = beam
        began = time.perf_counter()
        with shop.writing("a benchmark"):
            runner.add(shop, [footage], title="Servicing a reel", tell=tell)
        wall = time.perf_counter() - began
    for spent in ("wall", "cpu"):  # reading is done within arranging, where it is wanted
        stages["arranging"][spent] -= stages.get("reading", {}).get(spent, 0.0)
    hearing = shop.settings.hearing
    return {"stages": stages, "wall": wall, "duration": probe(footage).duration, "beam": hearing.beam_size}


def bare(footage: Path) -> dict:
    from faster_whisper import WhisperModel

    from pipeline.hearing.models import find_model

    began, used = time.perf_counter(), time.process_time()
    segments, _ = WhisperModel(find_model("base").source).transcribe(str(footage))
    words = sum(len(s.text.split()) for s in segments)
    return {"wall": time.perf_counter() - began, "cpu": time.process_time() - used, "memory": memory(), "words": words}


def end_to_end(hours: float, to: Path) -> Path:
    """The practice episodes' sound one after the other, over and over, for that many hours."""
    sounds = sorted(PRACTICE.glob("*/footage.ogg"))
    rows = to.with_suffix(".txt")
    rows.write_text("".join(f"file '{sound}'\n" for sound in sounds * math.ceil(hours * 3600 / 600 / len(sounds))))
    subprocess.run(["ffmpeg", "-loglevel", "error", "-f", "concat", "-safe", "0", "-i", rows, "-t", str(hours * 3600), "-c", "copy", to], check=True)
    return to


def apart(side: str, *more: str) -> dict:
    out = subprocess.run([sys.executable, __file__, "--side", side, *more], check=True, stdout=subprocess.PIPE)
    return json.loads(out.stdout.splitlines()[-1])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--footage", type=Path, default=PRACTICE / "spinning-reel" / "footage.ogg")
    parser.add_argument("--hours", type=float)
    parser.add_argument("--beam", type=int)
    parser.add_argument("--side", help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.side == "ours":
        return print(json.dumps(ours(args.footage, args.beam)))
    if args.side == "bare":
        return print(json.dumps(bare(args.footage)))
    if args.hours:
        with tempfile.TemporaryDirectory() as folder:
            return compare(end_to_end(args.hours, Path(folder) / "hours.ogg"), f"practice episodes end to end, {args.hours:g} h", args.beam)
    compare(args.footage, f"{args.footage.parent.name}/{args.footage.name}", args.beam)


def compare(footage: Path, name: str, beam: int | None) -> None:
    file = ["--footage", str(footage)]
    chain = apart("ours", *file, *(["--beam", str(beam)] if beam else []))
    alone = apart("bare", *file)
    hour = 3600 / chain["duration"]
    print(f"{name}, {chain['duration'] / 60:.1f} minutes, beam {chain['beam']}; {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}\n")
    print("| stage | wall s per hour of footage | processor s per hour of footage | memory MB |\n| --- | ---: | ---: | ---: |")
    for stage, row in chain["stages"].items():
        print(f"| {stage} | {row['wall'] * hour:.1f} | {row['cpu'] * hour:.1f} | {row['memory']:.0f} |")
    cpu, hearing = sum(row["cpu"] for row in chain["stages"].values()), chain["stages"]["hearing"]["wall"]
    print(f"| all | {chain['wall'] * hour:.0f} | {cpu * hour:.0f} | |")
    print(f"| faster-whisper alone | {alone['wall'] * hour:.0f} | {alone['cpu'] * hour:.0f} | {alone['memory']:.0f} |")
    print(f"\nall to faster-whisper alone: {chain['wall'] / alone['wall']:.2f} by wall time, {cpu / alone['cpu']:.2f} by processor time")
    print(f"beyond hearing: {(chain['wall'] - hearing) * hour:.0f} s an hour, {(chain['wall'] - hearing) / alone['wall']:.3f} of faster-whisper alone")


if __name__ == "__main__":
    main()
