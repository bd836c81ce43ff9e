"""Our reading of WebVTT against webvtt-py's (an independent reader): same cues, same times, same words.

The files are the practice episodes' captions as a speech model wrote them, and SubRip made from one of them by pysubs2.
"""

from pathlib import Path

import pysubs2
import pytest
import webvtt

from pipeline.hearing.captions import read_captions

PRACTICE = Path(__file__).parents[2] / "sample_media" / "practice"
EPISODES = sorted(p.parent.name for p in PRACTICE.glob("*/heard.vtt"))


def check(path: Path, cues) -> None:
    heard = read_captions(path)
    ends = [*heard.breaks[1:], len(heard.words)]
    assert len(heard.breaks) == len(cues)
    for first, last, cue in zip(heard.breaks, ends, cues):
        assert " ".join(w.text for w in heard.words[first:last]) == " ".join(cue.text.split())
        assert heard.words[first].start == pytest.approx(cue.start_in_seconds + cue.start_time.milliseconds / 1000, abs=0.002)
        assert heard.words[last - 1].end == pytest.approx(cue.end_in_seconds + cue.end_time.milliseconds / 1000, abs=0.002)


@pytest.mark.parametrize("episode", EPISODES)
def test_webvtt(episode):
    path = PRACTICE / episode / "heard.vtt"
    check(path, list(webvtt.read(path)))


def test_subrip(tmp_path):
    path = tmp_path / "heard.srt"
    pysubs2.load(str(PRACTICE / EPISODES[0] / "heard.vtt")).save(str(path))
    check(path, list(webvtt.from_srt(path)))
