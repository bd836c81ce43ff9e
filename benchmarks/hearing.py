#!/usr/bin/env python3
"""Measure the hearing stage on the practice episodes, next to a bare faster-whisper call with the same model.

    python benchmarks/hearing.py                              our hearing of every practice episode, printed as a table
    python benchmarks/hearing.py spinning --ways ours,bare    some of it
    python benchmarks/hearing.py --save                       also writes what our hearing gives as EPISODE/heard-base.json
    python benchmarks/hearing.py fly --save --unscored        of an unseen episode, its answers left alone
    python benchmarks/hearing.py --hours 4                    memory while that much footage is decoded, cut and filtered

Each measurement runs in a process of its own: wall seconds, processor seconds (its own, user and system, ffmpeg's too), and the
most memory it held. Words are scored as the scorer scores them: word error rate, and how many of the trade terms in the true
lines were heard.
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
MEDIA = HERE.parent / "sample_media"

SAME = dict(beam_size=1, condition_on_previous_text=False, temperature=0.0)
WAYS = {  # what it is, our settings or the call's options
    "ours": ("our hearing, as set by default", {}),
    "ours-beam5": ("our hearing, beam 5, context", {"beam_size": 5, "context": True}),
    "ours-light": ("our hearing, the light model", {"model": "light"}),
    "bare": ("faster-whisper alone with the options that we use: voice filter, beam 1, no context, one temperature", SAME),
    "bare-default": ("faster-whisper alone with its own: voice filter, beam 5, context, temperatures", {}),
}


def measure(folder: Path, way: str, save: bool, scored: bool, threads: int) -> dict:
    """Hear one episode one way, in this process."""
    from pipeline.hearing import HearingSettings, hear
    from pipeline.hearing.models import load_model

    began, used = time.perf_counter(), _processor()
    if way.startswith("ours"):
        heard = hear([folder / "footage.ogg"], HearingSettings(threads=threads, **WAYS[way][1]))
        words = [(w.text, w.start, w.end) for w in heard.words]
        if save:
            (folder / "heard-base.json").write_text(heard.model_dump_json())
    else:
        model = load_model(HearingSettings(threads=threads))
        segments, _ = model.transcribe(str(folder / "footage.ogg"), language="en", vad_filter=True, word_timestamps=True, **WAYS[way][1])
        words = [(w.word.strip(), w.start, w.end) for s in segments for w in s.words]
    result = {"wall": time.perf_counter() - began, "cpu": _processor() - used,
              "memory": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024}
    if scored:
        import score as scoring

        gold = json.loads((folder / "gold.json").read_text())
        found = scoring.score_hearing(gold, [{"start": s, "end": e, "text": t} for t, s, e in words])
        result |= {"wer": found["word error rate (lower is better)"], "terms": found["trade terms heard (recall)"]}
    return result


def _processor() -> float:
    return sum(u.ru_utime + u.ru_stime for u in map(resource.getrusage, (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)))


def memory_of_hours(hours: float) -> None:
    """Take that much footage (an episode over and over) up to where the speech model would hear it, and say how memory grew."""
    from faster_whisper.feature_extractor import FeatureExtractor
    from faster_whisper.vad import get_speech_timestamps

    from pipeline.hearing import HearingSettings
    from pipeline.hearing.footage import RATE, probe, sound
    from pipeline.hearing.windows import windows

    clip = probe(sorted(MEDIA.glob("practice/*/footage.ogg"))[0])

    def endless():
        while True:
            yield from sound(clip)

    began, told, features = time.perf_counter(), 0.0, FeatureExtractor()
    for window in windows(endless(), round(HearingSettings().window * RATE)):
        get_speech_timestamps(window.audio)
        features(window.audio)
        at = window.end / RATE / 3600
        if at >= told:
            print(f"{at:4.1f} h of footage: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB at most, {time.perf_counter() - began:.0f} s", flush=True)
            told += 0.5
        if at >= hours:
            return


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("episodes", nargs="*", help="practice or unseen episodes (all the practice ones)")
    parser.add_argument("--ways", default="ours", help=", ".join(WAYS) + ", or all (ours)")
    parser.add_argument("--save", action="store_true")
    parser.add_argument("--unscored", action="store_true")
    parser.add_argument("--threads", type=int, default=0)
    parser.add_argument("--hours", type=float)
    parser.add_argument("--one", action="store_true", help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.hours:
        return memory_of_hours(args.hours)
    ways = list(WAYS) if args.ways == "all" else args.ways.split(",")
    episodes = args.episodes or sorted(p.parent.name for p in MEDIA.glob("practice/*/footage.ogg"))
    if args.one:
        folder = next(p.parent for p in MEDIA.glob("*/*/footage.ogg") if p.parent.name == episodes[0])
        return print(json.dumps(measure(folder, ways[0], args.save, not args.unscored, args.threads)))
    print("\n".join(f"- `{way}`: {WAYS[way][0]}" for way in ways))
    print("\n| episode | way | wall s | processor s | load | memory MB | word error rate | trade terms heard |\n| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: |")
    for episode in episodes:
        for way in ways:
            command = [sys.executable, __file__, episode, "--ways", way, "--one", "--threads", str(args.threads)]
            command += ["--save"] * (args.save and way == "ours") + ["--unscored"] * args.unscored
            r = json.loads(subprocess.run(command, check=True, stdout=subprocess.PIPE).stdout.splitlines()[-1])
            print(f"| {episode} | {way} | {r['wall']:.0f} | {r['cpu']:.0f} | {os.getloadavg()[0]:.0f} | {r['memory']:.0f} "
                  f"| {r.get('wer', '')} | {r.get('terms', '')} |", flush=True)


if __name__ == "__main__":
    main()
