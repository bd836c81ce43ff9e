#!/usr/bin/env python3
"""Measure the hearing stage on the practice episodes, next to faster-whisper called bare in many ways, with the same model.

    python benchmarks/hearing.py                              our hearing of every practice episode, printed as a table
    python benchmarks/hearing.py spinning --ways ours,bare    some of it
    python benchmarks/hearing.py --save                       also writes what our hearing gives as EPISODE/heard-base.json
    python benchmarks/hearing.py fly --save --unscored        of an unseen episode, its answers left alone
    python benchmarks/hearing.py --model light --threads 1    another model, fewer threads
    python benchmarks/hearing.py --hours 4                    memory while that much footage is decoded, cut and filtered
    python benchmarks/hearing.py --lost                       the terms that the light model lost in the talks, for trade/hearing.toml

Each measurement runs in a process of its own: wall seconds, processor seconds (its own, user and system, ffmpeg's too), and the
most memory it held. Words are scored as the scorer scores them, as heard and as mended: word error rate, and how many of the
trade terms in the true lines are there. On a shared machine set KMP_BLOCKTIME=0 OMP_WAIT_POLICY=passive, or waiting counts as work.
"""

import argparse
import json
import os
import resource
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "tests" / "scoring")]
MEDIA = HERE.parent / "sample_media"

WORDS = dict(word_timestamps=True, vad_filter=True)  # what captions need: times of words, and nothing invented in silence
TRADE = "spool, side plate, main gear, pinion, drag washer, anti-reverse dog, bail, rotor, ball bearing, worm shaft, handle, level wind"


@dataclass(frozen=True)
class Way:
    """How to listen: our own settings, or what a bare call is given (`options`) with weights as numbers of a kind (`weights`)."""

    what: str
    settings: dict | None = None
    options: dict = field(default_factory=dict)
    weights: str = "int8"
    batched: bool = False


WAYS = {
    "ours": Way("our hearing, as set by default", {}),
    "ours-beam1": Way("our hearing, beam 1", {"beam_size": 1}),
    "ours-beam2": Way("our hearing, beam 2", {"beam_size": 2}),
    "ours-alone": Way("our hearing, one piece at a time", {"together": 1}),
    "ours-float": Way("our hearing, weights as 32-bit floats", {"compute_type": "float32"}),
    "ours-no-hint": Way("our hearing, the model told nothing of the trade's words", {"hint": False}),
    "bare": Way("WhisperModel(folder).transcribe(file) and nothing else: 32-bit floats, beam 5, context, temperatures, no filter, no times of words",
                weights="default"),
    "bare-int8": Way("the same with weights as 8-bit numbers"),
    "bare-words": Way("the same with voice filter and times of words: what captions need", options=WORDS),
    "bare-words-float": Way("the same in 32-bit floats", options=WORDS, weights="default"),
    "bare-beam2": Way("bare-words, beam 2", options=WORDS | dict(beam_size=2)),
    "bare-beam1": Way("bare-words, beam 1", options=WORDS | dict(beam_size=1)),
    "bare-no-context": Way("bare-words, no context", options=WORDS | dict(condition_on_previous_text=False)),
    "bare-beam1-no-context": Way("bare-words, beam 1, no context, one temperature (until way 4)",
                                 options=WORDS | dict(beam_size=1, condition_on_previous_text=False, temperature=0.0)),
    "bare-hotwords": Way("bare-words, hotwords", options=WORDS | dict(hotwords=TRADE)),
    "bare-prompt": Way("bare-words, a first prompt", options=WORDS | dict(initial_prompt=TRADE)),
    "bare-filter-tight": Way("bare-words, filter: pauses of 0.5 s, pads of 0.2 s", options=WORDS | dict(vad_parameters=dict(min_silence_duration_ms=500, speech_pad_ms=200))),
    "bare-filter-keen": Way("bare-words, filter: threshold 0.35", options=WORDS | dict(vad_parameters=dict(threshold=0.35))),
    "batched": Way("its batched pipeline, 8 at a time, beam 5", options=dict(word_timestamps=True), batched=True),
    "batched-beam1": Way("its batched pipeline, beam 1", options=dict(word_timestamps=True, beam_size=1), batched=True),
    "batched-times": Way("its batched pipeline, beam 5, timestamps as tokens", options=dict(word_timestamps=True, without_timestamps=False), batched=True),
    "batched-20s": Way("its batched pipeline, beam 5, pieces of 20 s", options=dict(word_timestamps=True, chunk_length=20), batched=True),
}


def measure(folder: Path, way: str, save: bool, scored: bool, threads: int, model: str) -> dict:
    """Hear one episode one way, in this process."""
    from pipeline.hearing import HearingSettings, hear
    from pipeline.hearing.hints import hints
    from pipeline.trade import Glossary

    title = json.loads((folder / "gold.json").read_text())["title"]
    began, used, how = time.perf_counter(), _processor(), WAYS[way]
    if how.settings is not None:
        heard = hear([folder / "footage.ogg"], HearingSettings(threads=threads, model=model, **how.settings), hints(title, Glossary()))
    else:
        heard = bare(folder / "footage.ogg", how, threads, model)
    result = {"wall": time.perf_counter() - began, "cpu": _processor() - used,
              "memory": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024}
    if save:
        (folder / "heard-base.json").write_text(heard.model_dump_json())
    if scored:
        import score as scoring

        from pipeline.mending import mend
        from pipeline.trade import load_trade

        gold = json.loads((folder / "gold.json").read_text())
        mended = mend(heard, load_trade(), gold["title"])
        for name, said in (("raw", [{"start": w.start, "end": w.end, "text": w.text} for w in heard.words]),
                           ("mended", [s.model_dump(by_alias=True) for s in mended.sentences])):
            found = scoring.score_hearing(gold, said)
            result |= {f"{name} wer": found["word error rate (lower is better)"], f"{name} terms": found["trade terms heard (recall)"]}
    return result


def bare(footage: Path, how: Way, threads: int, model: str):
    """What faster-whisper gives, as our own hearing would hand it on; without times of words, a segment's words share its time."""
    from faster_whisper import BatchedInferencePipeline, WhisperModel

    from pipeline.hearing import Heard, Word
    from pipeline.hearing.listening import PAUSE
    from pipeline.hearing.models import find_model
    from pipeline.hearing.speech import in_order, without_loops

    whisper = WhisperModel(find_model(model).source, device="cpu", compute_type=how.weights, cpu_threads=threads)
    segments, info = (BatchedInferencePipeline(whisper) if how.batched else whisper).transcribe(str(footage), **how.options)
    words = []
    for segment in segments:
        if segment.words is not None:
            words += [Word(text=w.word.strip(), start=w.start, end=w.end, probability=round(w.probability, 3)) for w in segment.words if w.word.strip()]
        else:
            texts = segment.text.split()
            step = (segment.end - segment.start) / max(len(texts), 1)
            words += [Word(text=t, start=segment.start + i * step, end=segment.start + (i + 1) * step) for i, t in enumerate(texts)]
    words = without_loops(in_order(words, 0, info.duration))
    breaks = [i for i, word in enumerate(words) if i == 0 or word.start - words[i - 1].end >= PAUSE]
    return Heard(words=words, breaks=breaks, duration=info.duration, source="speech")


def _processor() -> float:
    return sum(u.ru_utime + u.ru_stime for u in map(resource.getrusage, (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)))


def memory_of_hours(hours: float) -> None:
    """Take that much footage (an episode over and over) up to where the speech model would hear it, and say how memory grew."""
    from pipeline.hearing import HearingSettings
    from pipeline.hearing.footage import RATE, probe, sound
    from pipeline.hearing.pieces import pieces
    from pipeline.hearing.windows import windows

    clip = probe(sorted(MEDIA.glob("practice/*/footage.ogg"))[0])

    def endless():
        while True:
            yield from sound(clip)

    began, told = time.perf_counter(), 0.0
    for window in windows(endless(), round(HearingSettings().window * RATE)):
        pieces(window.audio)
        at = window.end / RATE / 3600
        if at >= told:
            print(f"{at:4.1f} h of footage: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB at most, {time.perf_counter() - began:.0f} s", flush=True)
            told += 0.5
        if at >= hours:
            return


def lost_terms() -> None:
    """What the light model lost in the talks that it heard, the oftenest first."""
    from collections import Counter

    import practice
    import score as scoring

    from pipeline.hearing.captions import read_captions

    lost, said = Counter(), 0
    for heard in sorted(MEDIA.glob("talks/*/heard.vtt")):
        rows = [{"start": w.start, "end": w.end, "text": w.text} for w in read_captions(heard).words]
        for spoken, *_, there in scoring.terms_heard(practice.gold_of(heard.parent), rows):
            said += 1
            lost[min(spoken).strip()] += not there
    print(f"{sum(lost.values())} of {said}: " + ", ".join(f"{term} {n}" for term, n in lost.most_common(80)))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("episodes", nargs="*", help="practice or unseen episodes (all the practice ones)")
    parser.add_argument("--ways", default="ours", help=", ".join(WAYS) + ", or all (ours)")
    parser.add_argument("--save", action="store_true")
    parser.add_argument("--unscored", action="store_true")
    parser.add_argument("--threads", type=int, default=0)
    parser.add_argument("--model", default="base", help="base (default) or light")
    parser.add_argument("--hours", type=float)
    parser.add_argument("--lost", action="store_true")
    parser.add_argument("--one", action="store_true", help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.lost:
        return lost_terms()
    if args.hours:
        return memory_of_hours(args.hours)
    ways = list(WAYS) if args.ways == "all" else args.ways.split(",")
    episodes = args.episodes or sorted(p.parent.name for p in MEDIA.glob("practice/*/footage.ogg"))
    if args.one:
        folder = next(p.parent for p in MEDIA.glob("*/*/footage.ogg") if p.parent.name == episodes[0])
        return print(json.dumps(measure(folder, ways[0], args.save, not args.unscored, args.threads, args.model)))
    print("\n".join(f"- `{way}`: {WAYS[way].what}" for way in ways))
    print("\n| episode | way | wall s | processor s | load | memory MB | word error rate | trade terms | mended: word error rate | trade terms |")
    print("| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |")
    for episode in episodes:
        for way in ways:
            command = [sys.executable, __file__, episode, "--ways", way, "--one", "--threads", str(args.threads), "--model", args.model]
            command += ["--save"] * (args.save and way == "ours" and args.model == "base") + ["--unscored"] * args.unscored
            r = json.loads(subprocess.run(command, check=True, stdout=subprocess.PIPE).stdout.splitlines()[-1])
            scores = " | ".join(f"{r[k]:.3f}" if k in r else "" for k in ("raw wer", "raw terms", "mended wer", "mended terms"))
            print(f"| {episode} | {way} | {r['wall']:.0f} | {r['cpu']:.0f} | {os.getloadavg()[0]:.0f} | {r['memory']:.0f} | {scores} |", flush=True)


if __name__ == "__main__":
    main()
