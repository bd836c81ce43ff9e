"""Footage of every kind, and every kind of bad footage with its one clear line."""

import os
import shutil

import numpy as np
import pytest

from pipeline.hearing import footage
from pipeline.hearing.footage import RATE, FootageError, probe, sound

TONE = ("-f", "lavfi", "-i", "sine=frequency=440")
PICTURE = ("-f", "lavfi", "-i", "testsrc=size=64x64:rate=5")


def heard(path) -> np.ndarray:
    return np.concatenate(list(sound(probe(path))))


@pytest.fixture
def video(clips):
    return clips("video.mp4", *PICTURE, *TONE, "-t", "4", "-metadata", "title=A <b>new</b>  reel", "-movflags", "faststart")


def test_probe_tells_what_a_clip_holds(video):
    found = probe(video)
    assert found.duration == pytest.approx(4, abs=0.1)
    assert (found.has_audio, found.has_video, found.title) == (True, True, "A <b>new</b> reel")
    assert found.size == video.stat().st_size and len(found.sha256) == 64


def test_a_title_that_is_no_utf_8_is_read_as_far_as_it_goes(clips):
    clip = clips("old.wav", *TONE, "-t", "1", "-metadata", "title=Reel AB")
    clip.write_bytes(clip.read_bytes().replace(b"Reel AB", b"Reel \xe5\xf8"))
    assert probe(clip).title == "Reel \ufffd\ufffd"


@pytest.mark.parametrize("suffix", ["mp3", "wav", "ogg", "flac", "mkv", "mov", "webm", "ts", "avi", "m4a"])
def test_any_container_gives_the_same_seconds(clips, suffix):
    samples = heard(clips(f"tone.{suffix}", *TONE, "-t", "3"))
    assert len(samples) / RATE == pytest.approx(3, abs=0.12) and 0.01 < np.abs(samples).max() <= 1


def test_sound_that_begins_late_keeps_its_place(clips):
    late = clips("late.mkv", *PICTURE, "-itsoffset", "1.5", *TONE, "-t", "4")
    samples = heard(late)
    assert np.abs(samples[: int(1.4 * RATE)]).max() < 0.001
    assert np.abs(samples[int(1.6 * RATE) : 2 * RATE]).max() > 0.01


@pytest.mark.parametrize("name", ["-i.mp4", "--help", "concat:a|b.mp4", "http:x.mp4", "pipe:0", "a 'b' \"c\".mp4", "reel\n🎣\t.mp4", "%03d.mp4", "[0-9]*.mp4", "$(id);&.mp4"])
def test_no_name_is_taken_for_anything_but_a_name(video, tmp_path, monkeypatch, name):
    monkeypatch.chdir(tmp_path)
    shutil.copyfile(video, tmp_path / name)
    assert len(heard(name)) / RATE == pytest.approx(4, abs=0.1)


def test_the_bundled_ffmpeg_serves_where_the_system_has_none(video, monkeypatch):
    monkeypatch.setenv("PATH", "")
    assert "imageio_ffmpeg" in footage.ffmpeg_binary()
    assert len(heard(video)) / RATE == pytest.approx(4, abs=0.1)


def write(path, data: bytes):
    path.write_bytes(data)
    return path


PLAYLISTS = {
    "list.m3u8": "#EXTM3U\n#EXT-X-TARGETDURATION:9\n#EXTINF:9,\n{secret}\n#EXT-X-ENDLIST\n",
    "list.mp4": "#EXTM3U\n#EXTINF:9,\nfile:{secret}\n",
    "list.ffconcat": "ffconcat version 1.0\nfile '{secret}'\n",
    "list.mpd": '<?xml version="1.0"?><MPD xmlns="urn:mpeg:dash:schema:mpd:2011"><BaseURL>{secret}</BaseURL></MPD>',
    "list.sdp": "v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 127.0.0.1\nt=0 0\nm=audio 5004 RTP/AVP 0\n",
}


@pytest.mark.parametrize("name", PLAYLISTS)
def test_a_playlist_leads_nowhere(clips, tmp_path, name):
    secret = clips("secret.ts", *TONE, "-t", "2")
    with pytest.raises(FootageError):
        heard(write(tmp_path / name, PLAYLISTS[name].format(secret=secret).encode()))


def test_bad_footage_is_named_in_one_line(video, clips, tmp_path, monkeypatch):
    silent = clips("silent.mp4", *PICTURE, "-t", "2")
    whole = video.read_bytes()
    (tmp_path / "folder.mp4").mkdir()
    os.mkfifo(tmp_path / "pipe.mp4")
    bad = {
        "zero bytes": write(tmp_path / "empty.mp4", b""),
        "folder": tmp_path / "folder.mp4",
        "no such file": tmp_path / "gone.mp4",
        "not a file": tmp_path / "pipe.mp4",
        "no footage that ffmpeg can read": write(tmp_path / "text.mp4", b"Back out the screws.\n" * 200),
        "neither sound nor picture": write(tmp_path / "captions.mp4", b"1\n00:00:01,000 --> 00:00:02,000\nBack it out.\n"),
        "no sound track": silent,
        "breaks off: its sound should last 0:04": write(tmp_path / "cut.mp4", whole[: len(whole) // 3]),
        "before its index": write(tmp_path / "cut2.mp4", clips("late-index.mp4", *TONE, "-t", "4").read_bytes()[:9000]),
        "empty (0 seconds)": clips("none.wav", *TONE, "-t", "0"),
        "can't be read": "reel\0.mp4",
        "name": "x" * 5000,
    }
    for what, path in bad.items():
        with pytest.raises(FootageError) as caught:
            heard(path)
        line = str(caught.value)
        assert what in line and "\n" not in line and len(line.split(". ")) >= 2, line


def test_no_permission_is_named(video, monkeypatch):
    def refuse(*_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.open", refuse)  # mode bits do not stop root
    with pytest.raises(FootageError, match="no permission"):
        probe(video)


def test_the_samples_are_those_that_the_speech_model_would_decode_for_itself(talk, clips):
    from faster_whisper.audio import decode_audio

    for path, apart in ((talk(20, 12), 0), (clips("tone-44.ogg", *TONE, "-t", "3", "-ar", "44100", "-ac", "2"), 1 / 32768)):
        mine, its = heard(path), decode_audio(str(path))
        assert len(mine) == pytest.approx(len(its), abs=RATE // 100)
        assert np.abs(mine[: len(its)] - its[: len(mine)]).max() <= apart
