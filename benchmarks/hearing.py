#!/usr/bin/env python3
"""Measure the hearing stage on the practice episodes, against a bare faster-whisper call with the same model and options.

    python benchmarks/hearing.py                          every episode, every way below, a table in benchmarks/hearing.md
    python benchmarks/hearing.py spinning --ways ours,bare    some of it, printed only
    python benchmarks/hearing.py --save                   also writes sample_media/practice/EPISODE/heard-base.json
    python benchmarks/hearing.py --hours 4                memory while that much footage is decoded and cut

Each measurement runs in a process of its own: wall seconds, processor seconds, and the most memory it held. The words are
scored as the scorer scores them: word error rate, and how many of the trade terms in the true lines were heard.
"""

import argparse
import json
import os
import resource
import subprocess
import sys
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "tests" / "scoring")]
PRACTICE = HERE.parent / "sample_media" / "practice"

WAYS = {
    "ours": "our hearing, as set by default",
    "ours-beam5": "our hearing, beam 5",
    "ours-hint": "our hearing, with the title as a hint",
    "ours-light": "our hearing, the light model",
    "bare": "faster-whisper alone: beam 1, no context, one temperature, voice filter",
    "bare-default": "faster-whisper alone: its own defaults (beam 5, context, temperatures), voice filter",
}


def measure(episode: str, way: str, save: bool, threads: int) -> dict:
    """Hear one episode one way, in this process."""
    import score as scoring

    folder = PRACTICE / episode
    gold = json.loads((folder / "gold.json").read_text())
    began, used = time.perf_counter(), time.process_time()
    if way.startswith("ours"):
        from pipeline.hearing import HearingSettings, hear

        settings = HearingSettings(threads=threads, model="light" if "light" in way else "base", hint="hint" in way, **({"beam_size": 5} if "beam5" in way else {}))
        heard = hear([folder / "footage.ogg"], settings, [gold["title"]])
        words = [(w.text, w.start, w.end) for w in heard.words]
        if save:
            (folder / "heard-base.json").write_text(heard.model_dump_json())
    else:
        from pipeline.hearing.models import load_model
        from pipeline.hearing.settings import HearingSettings

        options = {} if way == "bare-default" else dict(beam_size=1, condition_on_previous_text=False, temperature=0.0)
        model = load_model(HearingSettings(threads=threads))
        segments, _ = model.transcribe(str(folder / "footage.ogg"), language="en", vad_filter=True, word_timestamps=True, **options)
        words = [(w.word.strip(), w.start, w.end) for s in segments for w in s.words]
    spent = {"wall": time.perf_counter() - began, "cpu": time.process_time() - used,
             "memory": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, "minutes": gold["duration"] / 60}
    scored = scoring.score_hearing(gold, [{"start": s, "end": e, "text": t} for t, s, e in words])
    return spent | {"terms": scored["trade terms heard (recall)"], "wer": scored["word error rate (lower is better)"]}


def memory_of_hours(hours: float) -> None:
    """Decode and cut that much footage (an episode over and over), and say how memory grew."""
    from pipeline.hearing.footage import RATE, probe, sound
    from pipeline.hearing.pieces import pieces

    clip = probe(sorted(PRACTICE.glob("*/footage.ogg"))[0])

    def endless():
        while True:
            yield from sound(clip)

    began, told = time.perf_counter(), 0.0
    for piece in pieces(endless()):
        at = piece.end / RATE / 3600
        if at >= told:
            print(f"{at:4.1f} h of footage: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB at most, {time.perf_counter() - began:.0f} s", flush=True)
            told += 0.5
        if at >= hours:
            return


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("episodes", nargs="*")
    parser.add_argument("--ways", default=",".join(WAYS), help=", ".join(WAYS))
    parser.add_argument("--save", action="store_true")
    parser.add_argument("--threads", type=int, default=0)
    parser.add_argument("--hours", type=float)
    parser.add_argument("--one", action="store_true", help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.hours:
        return memory_of_hours(args.hours)
    episodes, ways = args.episodes or sorted(p.parent.name for p in PRACTICE.glob("*/footage.ogg")), args.ways.split(",")
    if args.one:
        return print(json.dumps(measure(episodes[0], ways[0], args.save, args.threads)))
    rows = ["| episode | way | wall s | processor s | memory MB | word error rate | trade terms heard |", "| --- | --- | ---: | ---: | ---: | ---: | ---: |"]
    for episode in episodes:
        for way in ways:
            command = [sys.executable, __file__, episode, "--ways", way, "--one", "--threads", str(args.threads), *(["--save"] if args.save and way == "ours" else [])]
            r = json.loads(subprocess.run(command, check=True, stdout=subprocess.PIPE).stdout.splitlines()[-1])
            rows.append(f"| {episode} ({r['minutes']:.1f} min) | {way} | {r['wall']:.0f} | {r['cpu']:.0f} | {r['memory']:.0f} | {r['wer']:.3f} | {r['terms']:.3f} |")
            print(rows[-1], flush=True)
    if not args.episodes:
        ways = "".join(f"- `{way}`: {what}\n" for way, what in WAYS.items() if way in args.ways.split(","))
        (HERE / "hearing.md").write_text(
            "# Hearing, measured\n\nMade by `python benchmarks/hearing.py`. Processor seconds are of all threads together; wall seconds mean little where a "
            f"machine is shared.\nMachine: {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the end.\n\n{ways}\n" + "\n".join(rows) + "\n")


if __name__ == "__main__":
    main()
