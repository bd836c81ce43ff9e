"""Our hearing against a bare faster-whisper call (same model, same options) on the same footage: nearly the same words, at the same times."""

import subprocess
from difflib import SequenceMatcher
from pathlib import Path

import pytest

from pipeline.hearing import HearingSettings, hear
from pipeline.hearing.footage import ffmpeg_binary
from pipeline.hearing.models import load_model

EPISODE = Path(__file__).parents[2] / "sample_media" / "practice" / "spinning-reel" / "footage.ogg"


def test_words_and_times_agree_with_faster_whisper_alone(tmp_path):
    footage = tmp_path / "talk.wav"
    subprocess.run([ffmpeg_binary(), "-nostdin", "-loglevel", "error", "-ss", "60", "-t", "40", "-i", str(EPISODE), "-ar", "16000", "-ac", "1", str(footage)], check=True)
    ours = hear([footage], HearingSettings(device="cpu", beam_size=1)).words
    segments, _ = load_model(HearingSettings(device="cpu")).transcribe(
        str(footage), language="en", beam_size=1, temperature=0.0, condition_on_previous_text=True, vad_filter=True, word_timestamps=True)
    bare = [w for s in segments for w in s.words]
    same = SequenceMatcher(None, [w.text.lower() for w in ours], [w.word.strip().lower() for w in bare], autojunk=False)
    assert same.ratio() > 0.85
    gaps = sorted(abs(ours[a + i].start - bare[b + i].start) for a, b, n in same.get_matching_blocks() for i in range(n))
    assert gaps[len(gaps) // 2] < 0.1 and gaps[int(len(gaps) * 0.95)] == pytest.approx(0, abs=0.6)
