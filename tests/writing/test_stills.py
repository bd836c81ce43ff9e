"""Stills from footage made here: which moment is taken, and what bad footage does."""

import subprocess
from pathlib import Path

import pytest

from pipeline.record import Step
from pipeline.writing import WritingSettings
from pipeline.writing.stills import take_stills

SETTINGS = WritingSettings(still_width=320)


def film(path: Path, picture: str, seconds: int = 12) -> Path:
    subprocess.run(["ffmpeg", "-v", "error", "-y", "-f", "lavfi", "-i", f"{picture}", "-t", str(seconds), "-r", "10", "-pix_fmt", "yuv420p", "-g", "30", str(path)], check=True)
    return path


def step(start: float, id: str = "a", do: str = "remove", **more) -> Step:
    return Step(id=id, start=start, end=start + 2, do=do, part="spool", text="Remove the spool.", **more)


def picture(folder: Path, name: str):
    import numpy as np
    from PIL import Image

    with Image.open(folder / name) as image:
        return np.asarray(image.convert("RGB"), float)


def edges(grey) -> float:
    return (4 * grey[1:-1, 1:-1] - grey[:-2, 1:-1] - grey[2:, 1:-1] - grey[1:-1, :-2] - grey[1:-1, 2:]).var()


def test_the_sharp_moment_is_taken_not_the_blurred_one(tmp_path):
    # blurred until 4 s, sharp from there; the step is said from 1 to 3 s and its hands go on after it
    half = film(tmp_path / "half.mp4", "testsrc=s=640x360:r=10,boxblur=12:enable='lt(t,4)'")
    whole = film(tmp_path / "whole.mp4", "testsrc=s=640x360:r=10,boxblur=12")
    sharp, blurred = (take_stills([step(1)], [clip], tmp_path / clip.stem, SETTINGS)["a"] for clip in (half, whole))
    assert edges(picture(tmp_path / "half", sharp).mean(axis=2)) > 5 * edges(picture(tmp_path / "whole", blurred).mean(axis=2))


def test_twins_are_left_out(tmp_path):
    clip = film(tmp_path / "c.mp4", "smptebars=s=320x180:r=10")
    names = take_stills([step(0, "a"), step(3, "b"), step(6, "c")], [clip], tmp_path / "stills", SETTINGS)
    assert list(names) == ["a"]


def test_black_footage_sound_and_broken_files_give_none(tmp_path):
    black = film(tmp_path / "b.mp4", "color=black:s=320x180:r=10")
    sound = tmp_path / "s.ogg"
    subprocess.run(["ffmpeg", "-v", "error", "-f", "lavfi", "-i", "sine=d=12", str(sound)], check=True)
    broken = tmp_path / "x.mp4"
    broken.write_bytes(black.read_bytes()[:900])
    playlist = tmp_path / "l.mp4"
    playlist.write_text("#EXTM3U\n#EXTINF:10,\nfile:///etc/passwd\n")
    for clip in (black, sound, broken, playlist, tmp_path / "none.mp4"):
        assert take_stills([step(1)], [clip], tmp_path / "stills", SETTINGS) == {}


def test_the_second_clip_begins_where_the_first_ends(tmp_path):
    bars, pattern = film(tmp_path / "1.mp4", "smptebars=s=320x180:r=10"), film(tmp_path / "2.mp4", "testsrc=s=320x180:r=10")
    names = take_stills([step(2, "one"), step(15, "two")], [bars, pattern], tmp_path / "stills", SETTINGS)
    assert set(names) == {"one", "two"}
    alone = take_stills([step(3, "two")], [pattern], tmp_path / "alone", SETTINGS)
    assert abs(picture(tmp_path / "stills", names["two"]) - picture(tmp_path / "alone", alone["two"])).mean() < 1.0


def test_dearest_steps_first_and_no_more_than_allowed(tmp_path):
    clip = film(tmp_path / "c.mp4", "testsrc2=s=320x180:r=10,hue=H=t")
    steps = [step(0, "dry", "dry"), step(4, "off", "remove"), step(8, "undone", "remove", undone=True)]
    names = take_stills(steps, [clip], tmp_path / "stills", SETTINGS.model_copy(update={"most_stills": 1}))
    assert list(names) == ["off"]


@pytest.mark.parametrize("turn", [90, 180, 270])
def test_a_phone_held_upright_gives_an_upright_still(tmp_path, turn):
    """ffmpeg turns a picture on its own as players do: ours must come out the same."""
    flat, turned = film(tmp_path / "flat.mp4", "smptebars=s=320x180:r=10"), tmp_path / "turned.mp4"
    subprocess.run(["ffmpeg", "-v", "error", "-i", str(flat), "-c", "copy", "-metadata:s:v", f"rotate={turn}", str(turned)], check=True)
    subprocess.run(["ffmpeg", "-v", "error", "-i", str(turned), "-frames:v", "1", str(tmp_path / "player.png")], check=True)
    names = take_stills([step(1)], [turned], tmp_path / "stills", SETTINGS)
    ours, players = picture(tmp_path / "stills", names["a"]), picture(tmp_path, "player.png")
    assert ours.shape == players.shape and abs(ours - players).mean() < 6.0
