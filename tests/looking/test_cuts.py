"""Cuts in the picture, against films whose cuts are known because they were made here, and against ffmpeg's own scene score."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.hearing.footage import ffmpeg_binary, probe
from pipeline.looking.cuts import find_cuts

ROOT = Path(__file__).resolve().parents[2]
VIEWS = (("testsrc2", 7.0), ("testsrc", 9.3), ("smptehdbars", 6.2), ("rgbtestsrc", 8.5))
TRUE = [7.0, 16.3, 22.5]
X264 = ("-c:v", "libx264", "-preset", "veryfast")
CARTOON = "testsrc2=s=320x180:r=25:d=20"


def ffmpeg(*arguments) -> str:
    return subprocess.run([ffmpeg_binary(), "-nostdin", "-y", *map(str, arguments)], check=True, capture_output=True, text=True).stderr


@pytest.fixture(scope="module")
def film(tmp_path_factory):
    """`film(name, graph, *codec)` makes a film of a filter graph once; its sound is a tone."""
    folder = tmp_path_factory.mktemp("films")

    def make(name: str, graph: str, *codec: str) -> Path:
        path = folder / name
        if not path.exists():
            ffmpeg("-v", "error", "-f", "lavfi", "-i", graph, *(codec or X264), path)
        return path

    return make


def of_views(rate: int = 25, size: str = "320x180") -> str:
    parts = [f"{source}=s={size}:r={rate},format=yuv420p,trim=0:{seconds},setpts=PTS-STARTPTS[v{i}]" for i, (source, seconds) in enumerate(VIEWS)]
    return ";".join(parts) + ";" + "".join(f"[v{i}]" for i in range(len(VIEWS))) + f"concat=n={len(VIEWS)}"


def cuts(*paths: Path) -> list[float]:
    return find_cuts([probe(p) for p in paths])


@pytest.mark.parametrize("name, codec", [
    ("as-x264-does.mp4", X264), ("at-fixed-key-frames.mp4", (*X264, "-g", "25", "-sc_threshold", "0")),
    ("one-key-frame-in-10-s.mkv", (*X264, "-g", "250", "-sc_threshold", "0")), ("open-groups.ts", (*X264, "-g", "40", "-x264-params", "open-gop=1:scenecut=0")),
    ("every-frame-a-key.mov", ("-c:v", "mjpeg")), ("old-camera.avi", ("-c:v", "mpeg4", "-g", "50", "-sc_threshold", "1000000000")),
    ("broadcast.mpg", ("-c:v", "mpeg2video", "-g", "15", "-sc_threshold", "1000000000"))])
def test_cuts_are_where_they_were_made(film, name, codec):
    assert cuts(film(name, of_views(), *codec)) == pytest.approx(TRUE, abs=0.15)


def test_the_same_cuts_as_by_the_scene_score_of_ffmpeg(film):
    path = film("scored.mp4", of_views(), *X264, "-g", "50", "-sc_threshold", "0")
    told = ffmpeg("-i", path, "-vf", "select='gt(scene,0.3)',metadata=print", "-an", "-f", "null", "-")
    theirs = [float(t) for t in re.findall(r"pts_time:([\d.]+)", told)]
    assert cuts(path) == pytest.approx(theirs, abs=0.1) and len(theirs) == len(TRUE)


def test_a_fade_through_black_is_where_the_picture_comes_back(film):
    fade = f"{CARTOON},trim=0:10,fade=out:st=9:d=0.6[a];{CARTOON},trim=10:20,setpts=PTS-STARTPTS,fade=in:st=0.4:d=0.8[b];[a][b]concat"
    assert cuts(film("fade.mp4", fade, *X264, "-g", "250")) == pytest.approx([10.5], abs=0.2)
    assert cuts(film("begins-and-ends-black.mp4", f"{CARTOON},fade=in:d=1,fade=out:st=18:d=1", *X264)) == []


def test_things_moved_at_one_blow_on_the_same_bench_are_a_cut(film):
    moved = ",".join(f"drawbox={x}:{y}:90:80:c={c}:t=fill:enable='gte(t,11)'" for x, y, c in ((20, 30, "0x202020"), (190, 70, "0xd0d0d0")))
    assert cuts(film("moved.mp4", f"smptebars=s=320x180:r=25:d=20,noise=c0s=6:c0f=t,{moved}", *X264, "-sc_threshold", "0")) == pytest.approx([11.0], abs=0.15)


@pytest.mark.parametrize("what, graph", [
    ("a camera that moves", "testsrc=s=640x360:r=25:d=16,crop=320:180:x='160+150*sin(t)':y='90+80*sin(1.7*t)'"),
    ("a hand that comes and goes", "color=0x307050:s=320x180:r=25:d=16[b];color=0xd0a080:s=120x90:r=25:d=16[h];[b][h]overlay=x='100+250*sin(2*t)':y=60"),
    ("a flash", f"{CARTOON},eq=brightness=0.6:enable='between(t,8,8.1)'"),
    ("a white flash", f"{CARTOON},drawbox=c=white:t=fill:enable='between(t,8,8.1)'"),
    ("a lamp that is switched on", "testsrc=s=320x180:r=25:d=16,eq=brightness=0.15:contrast=1.2:enable='gte(t,8)'"),
    ("one picture that dissolves into another", "testsrc2=s=320x180:r=25:d=10[a];smptehdbars=s=320x180:r=25:d=10[b];[a][b]xfade=duration=2:offset=7")])
def test_what_is_no_cut(film, what, graph):
    assert cuts(film(f"{what.replace(' ', '-')}.mp4", graph)) == []


def test_a_frame_rate_that_changes(film):
    path = film("varying.mkv", of_views(30) + ",select='gt(mod(n,7),2)+lt(mod(t,5),2)'", *X264, "-fps_mode", "vfr")
    assert cuts(path) == pytest.approx(TRUE, abs=0.2)


def test_a_film_cut_every_second_tells_nothing(film):
    graph = ";".join(f"{('testsrc2', 'rgbtestsrc', 'smptehdbars')[i % 3]}=s=160x90:r=10,format=yuv420p,trim=0:1,setpts=PTS-STARTPTS[v{i}]" for i in range(60))
    assert cuts(film("quick.mp4", graph + ";" + "".join(f"[v{i}]" for i in range(60)) + "concat=n=60")) == []


def test_clips_in_a_row(film, tmp_path):
    whole = film("as-x264-does.mp4", of_views())
    plain = film("plain.mp4", f"{CARTOON}")
    one, two = tmp_path / "one.mp4", tmp_path / "two.mp4"
    ffmpeg("-v", "error", "-t", "10", "-i", plain, "-c", "copy", one)
    ffmpeg("-v", "error", "-ss", "10", "-i", plain, *X264, two)
    assert cuts(one, two) == []  # a camera begins a new file by itself
    long = probe(plain).duration
    assert cuts(plain, whole, plain) == pytest.approx([*(long + t for t in TRUE), long + probe(whole).duration], abs=0.15)  # the first view is that of `plain`


def test_footage_without_a_picture_or_with_one_only(film, tmp_path):
    tone = ("-f", "lavfi", "-i", "sine=d=9")
    sound, cover, still, slide = (tmp_path / n for n in ("sound.ogg", "cover.m4a", "still.mp4", "slide.mp4"))
    ffmpeg("-v", "error", *tone, sound)
    ffmpeg("-v", "error", "-f", "lavfi", "-i", CARTOON, "-frames:v", "1", tmp_path / "cover.png")
    ffmpeg("-v", "error", *tone, "-i", tmp_path / "cover.png", "-map", "0", "-map", "1", "-c:v", "mjpeg", "-disposition:v", "attached_pic", cover)
    ffmpeg("-v", "error", "-f", "lavfi", "-i", CARTOON, "-frames:v", "1", *X264, still)
    ffmpeg("-v", "error", *tone, "-loop", "1", "-framerate", "5", "-i", tmp_path / "cover.png", "-shortest", *X264, slide)
    assert cuts(sound, cover, still, slide) == []


@pytest.mark.parametrize("harm", ["ends early", "holes", "noise", "no such file", "a text", "length is a lie"])
def test_harmed_footage_is_no_error_and_gives_no_cut_that_is_not_there(film, tmp_path, harm):
    whole = film("transport.ts", of_views(), *X264, "-g", "25")
    clip, path = probe(whole), tmp_path / "harmed.ts"
    raw = bytearray(whole.read_bytes())
    if harm == "ends early":
        raw = raw[: len(raw) // 2]
    elif harm == "holes":
        for at in range(5000, len(raw), 60_000):
            raw[at:at + 700] = bytes(700)
    elif harm == "noise":
        raw = bytearray(b"\x47\x1f\x80" * 90_000)
    elif harm == "a text":
        raw = bytearray(b"Thanks for watching\n" * 1000)
    if harm != "no such file":
        path.write_bytes(raw)
    found = find_cuts([clip.model_copy(update={"path": path, "duration": 1e7 if harm == "length is a lie" else clip.duration})])
    assert all(min(abs(t - true) for true in TRUE) < 0.5 for t in found)
    if harm == "length is a lie":
        assert len(found) == 3


def test_memory_does_not_grow_with_the_film(film, tmp_path):
    once, long = film("minute.mp4", of_views(size="640x360"), *X264, "-g", "30"), tmp_path / "long.mp4"
    ffmpeg("-v", "error", "-stream_loop", "19", "-i", once, "-c", "copy", long)
    script = "import resource, sys; from pathlib import Path; from pipeline.hearing.footage import probe; from pipeline.looking.cuts import find_cuts\n" \
             "clip = probe(Path(sys.argv[1])); n = len(find_cuts([clip])); print(n, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
    (few, small), (many, large) = (map(int, subprocess.run([sys.executable, "-c", script, p], cwd=ROOT, check=True, capture_output=True, text=True).stdout.split())
                                   for p in (once, long))
    assert few == 3 and many == 79 and large - small < 15_000  # KiB


def test_progress_goes_up_to_the_end(film):
    path, told = film("as-x264-does.mp4", of_views()), []
    clip = probe(path)
    find_cuts([clip, clip], lambda done, total: told.append((done, total)))
    assert told == sorted(told) and all(0 <= done <= total == 2 * clip.duration for done, total in told) and len(told) > 2 and told[-1][0] == 2 * clip.duration
