#!/usr/bin/env python3
"""Are the guide's stills sharp, steady and different, and what do they cost?

    python benchmarks/stills.py                 the demo film, whose sharp, soft and shaky stretches are known (demo/stills.json)
    python benchmarks/stills.py --sheet a.jpg   all of them on one sheet, to look at
    python benchmarks/stills.py --hour          the demo film again and again for an hour, as it is and as cameras write it:
                                                time for the stills, and for the whole set of files

steady: share of the stills on a sharp, steady stretch (goal 0.95); twins: share that shows the same as the one before it, by
structural similarity over 0.98; away: seconds between the talk of a step and its picture, nine in ten are nearer.
"""

import argparse
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE)]

from guide import episode_of_answers  # noqa: E402

from pipeline.mending import Mended  # noqa: E402
from pipeline.record import Episode, Step  # noqa: E402
from pipeline.writing import WritingSettings, write_out  # noqa: E402
from pipeline.writing.stills import Still, take_stills  # noqa: E402

DEMO = HERE.parent / "sample_media" / "demo"
HOURS = {"as it is (1280x720, 10 fps, a key frame every 10 s)": None,
         "as a phone writes it (1920x1080, 30 fps, every second)": "scale=1920:1080,fps=30|30",
         "as a web video (1920x1080, 30 fps, every 5 s)": "scale=1920:1080,fps=30|150"}


def answers() -> Episode:
    return episode_of_answers(json.loads((DEMO / "gold.json").read_text()))


def stretch_of(moment: float) -> str:
    stretches = json.loads((DEMO / "stills.json").read_text())
    return next((s["is"] for s in stretches if s["start"] <= moment < s["end"]), "camera travels")


def similarity(one: Path, other: Path) -> float:
    """Mean structural similarity of two pictures (Wang and others 2004), over 8 by 8 blocks of their brightness."""
    import numpy as np
    from PIL import Image

    def blocks(path: Path) -> np.ndarray:
        with Image.open(path) as image:
            grey = np.asarray(image.convert("L").resize((640, 360)), float)
        return grey.reshape(45, 8, 80, 8).transpose(0, 2, 1, 3).reshape(-1, 64)

    a, b = blocks(one), blocks(other)
    mean_a, mean_b, c1, c2 = a.mean(1), b.mean(1), (0.01 * 255) ** 2, (0.03 * 255) ** 2
    both = ((a - mean_a[:, None]) * (b - mean_b[:, None])).mean(1)
    return float(((2 * mean_a * mean_b + c1) * (2 * both + c2) / ((mean_a**2 + mean_b**2 + c1) * (a.var(1) + b.var(1) + c2))).mean())


def measure(steps: list[Step], folder: Path) -> tuple[dict[str, Still], dict]:
    began = time.perf_counter()
    stills = take_stills(steps, [DEMO / "demo.mp4"], folder, WritingSettings())
    seconds = time.perf_counter() - began
    by_time = [(s, stills[s.id]) for s in sorted(steps, key=lambda s: s.start) if s.id in stills]
    where = [stretch_of(still.moment) for _, still in by_time]
    alike = [similarity(folder / a.name, folder / b.name) for (_, a), (_, b) in zip(by_time, by_time[1:])]
    away = sorted(max(0.0, step.start - still.moment, still.moment - step.end) for step, still in by_time)
    return stills, {"steps": len(steps), "stills": len(stills), "steady": where.count("sharp") / len(where), "twins": sum(a > 0.98 for a in alike) / len(where),
                    "away": away[int(0.9 * len(away))], "seconds": seconds, "bad": [f"{s.moment:.1f} {w}" for (_, s), w in zip(by_time, where) if w != "sharp"]}


def hour_of(clip: Path, recode: str | None, folder: Path) -> Path:
    once, long = folder / "once.mp4", folder / "hour.mp4"
    if recode:
        picture, keys = recode.split("|")
        subprocess.run(["ffmpeg", "-v", "error", "-y", "-i", str(clip), "-vf", picture, "-g", keys, "-sc_threshold", "0", "-preset", "veryfast", "-an", str(once)], check=True)
    subprocess.run(["ffmpeg", "-v", "error", "-y", "-stream_loop", "15", "-i", str(once if recode else clip), "-c", "copy", "-an", "-t", "3600", str(long)], check=True)
    return long


def an_hour(episode: Episode) -> Episode:
    """The demo's steps eight times over an hour: 248 of them, an hour's worth of work and more."""
    length, steps = 237.5, []
    for turn in range(0, 15, 2):
        steps += [s.model_copy(update={"id": f"{turn}-{s.id}", "start": s.start + turn * length, "end": s.end + turn * length, "qty": turn + 1}) for s in episode.steps]
    return episode.model_copy(update={"steps": steps, "duration": 3600.0})


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--record", type=Path, help="an episode.json of the demo, as the program made it, in place of the answers")
    parser.add_argument("--sheet", type=Path, help="a picture of all stills")
    parser.add_argument("--hour", action="store_true", help="time an hour of footage")
    args = parser.parse_args()
    episode = Episode.model_validate_json(args.record.read_text()) if args.record else answers()
    with tempfile.TemporaryDirectory() as folder:
        stills, found = measure(episode.steps, Path(folder) / "stills")
        print(f"{found['stills']} stills for {found['steps']} steps: steady {found['steady']:.3f}, twins {found['twins']:.3f}, "
              f"away {found['away']:.1f} s, {found['seconds']:.1f} s" + (f"; not steady at {', '.join(found['bad'])}" if found["bad"] else ""))
        if args.sheet:
            sheet(Path(folder) / "stills", stills, args.sheet)
    for name, recode in HOURS.items() if args.hour else ():
        with tempfile.TemporaryDirectory() as folder:
            clip, long = hour_of(DEMO / "demo.mp4", recode, Path(folder)), an_hour(answers())
            taken, alone = clocked(lambda: take_stills(long.steps, [clip], Path(folder) / "stills", WritingSettings()))
            _, whole = clocked(lambda: write_out(Path(folder) / "out", long, Mended(sentences=[], words=[], spans=[]), [clip], WritingSettings()))
            print(f"an hour {name}: {len(taken)} stills in {alone}; all files with stills in {whole}", flush=True)


def clocked(work):
    wall, processor = time.perf_counter(), time.process_time()
    result = work()
    return result, f"{time.perf_counter() - wall:.1f} s ({time.process_time() - processor:.1f} processor s)"


def sheet(folder: Path, stills: dict[str, Still], to: Path) -> None:
    from PIL import Image

    names = sorted(s.name for s in stills.values())
    page = Image.new("RGB", (5 * 320, -(-len(names) // 5) * 184), "white")
    for i, name in enumerate(names):
        with Image.open(folder / name) as image:
            page.paste(image.resize((316, 180)), (i % 5 * 320, i // 5 * 184))
    page.save(to)


if __name__ == "__main__":
    main()
