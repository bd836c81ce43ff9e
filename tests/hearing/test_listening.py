"""Footage to words with the real speech model, on short pieces of the practice episodes."""

import json
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import jiwer
import pytest

from pipeline.hearing import FootageError, HearingSettings, hear, listen

ROOT = Path(__file__).parents[2]
PRACTICE = ROOT / "sample_media" / "practice"
SPANISH = ROOT / "tests" / "data" / "spanish.ogg"  # spoken by espeak-ng, invented sentences

QUICK = HearingSettings(window=20)


def plain(text: str) -> str:
    return " ".join(re.sub(r"[^a-z0-9' ]+", " ", text.lower()).split())


def texts(heard) -> list[str]:
    return [w.text for w in heard.words]


@pytest.fixture(scope="module")
def minute(talk):
    return talk(20, 60)


@pytest.fixture(scope="module")
def undisturbed(minute):
    return hear([minute], QUICK)


def test_words_are_heard_where_they_were_said(undisturbed):
    gold = json.loads((PRACTICE / "spinning-reel" / "gold.json").read_text())
    lines = [line for line in gold["lines"] if 20 <= line["start"] and line["end"] <= 80]
    first, last = lines[0]["start"] - 20, lines[-1]["end"] - 20  # the cut goes through the lines beside them
    heard = [w.text for w in undisturbed.words if first - 0.3 <= (w.start + w.end) / 2 <= last + 0.3]
    assert jiwer.wer(plain(" ".join(line["say"] for line in lines)), plain(" ".join(heard))) < 0.25
    for line in gold["lines"]:
        first = plain(line["say"]).split()[:3]
        for i in range(len(undisturbed.words) - 2):
            if [plain(t) for t in texts(undisturbed)[i : i + 3]] == first and 20 <= line["start"] < 80:
                assert undisturbed.words[i].start + 20 == pytest.approx(line["start"], abs=1.5)


def test_words_have_times_in_order_and_breaks_at_pauses(undisturbed):
    words = undisturbed.words
    flat = [t for w in words for t in (w.start, w.end)]
    assert flat == sorted(flat) and flat[-1] <= undisturbed.duration == pytest.approx(60, abs=0.1)
    assert undisturbed.breaks[0] == 0 and 3 <= len(undisturbed.breaks) < len(words) / 3
    assert all(0 <= w.probability <= 1 for w in words)


def test_clips_run_on(talk):
    first, second = talk(20, 12), talk(32, 12)
    alone = hear([second], QUICK)
    both = hear([first, second], QUICK)
    count = len(alone.words)
    assert texts(both)[-count:] == texts(alone)
    assert [w.start for w in both.words[-count:]] == pytest.approx([w.start + 12 for w in alone.words], abs=0.05)
    assert both.duration == pytest.approx(24, abs=0.1)


def test_a_clip_without_sound_is_silence_among_others(talk, clips):
    silent = clips("silent-3s.mp4", "-f", "lavfi", "-i", "testsrc=size=64x64:rate=5", "-t", "3")
    alone, after = hear([talk(20, 12)], QUICK), hear([silent, talk(20, 12)], QUICK)
    assert texts(after) == texts(alone) and after.words[0].start == pytest.approx(alone.words[0].start + 3, abs=0.3)


def test_progress_ends_at_the_whole(talk):
    seen = []
    hear([talk(20, 12), talk(32, 12)], QUICK, progress=lambda done, total: seen.append((done, total)))
    assert [done for done, _ in seen] == sorted(done for done, _ in seen)
    assert seen[-1][0] == seen[-1][1] == pytest.approx(24, abs=0.1)


def test_a_killed_run_goes_on_and_hears_the_same(minute, undisturbed, tmp_path):
    journal = tmp_path / "heard.jsonl"
    script = ("import sys; from pathlib import Path; from pipeline.hearing import hear, HearingSettings; "
              "hear([Path(sys.argv[1])], HearingSettings(window=20), journal=Path(sys.argv[2]))")
    run = subprocess.Popen([sys.executable, "-c", script, str(minute), str(journal)], cwd=ROOT)
    until = time.monotonic() + 240
    while not (journal.exists() and journal.read_bytes().count(b"\n") >= 2):
        assert run.poll() is None and time.monotonic() < until
        time.sleep(0.02)
    run.send_signal(signal.SIGKILL)
    run.wait()
    kept = journal.read_bytes()
    assert b'"whole": true' not in kept, "the run was killed in the middle"
    assert hear([minute], QUICK, journal=journal) == undisturbed
    assert journal.read_bytes().startswith(kept[: kept.rfind(b"\n") + 1]), "what was heard before the kill is not heard again"


def test_a_run_killed_within_one_window_goes_on_from_the_last_call(minute, tmp_path):
    """Wherever the journal ends, what stands in it is not heard again, and the words are those of a run never stopped."""
    journal = tmp_path / "heard.jsonl"
    whole = hear([minute], journal=journal)
    lines = journal.read_bytes().splitlines(keepends=True)
    parts = [i for i, line in enumerate(lines) if b'"segments"' in line]
    assert len(parts) >= 2, "a minute of talk is kept in several rows"
    for last in parts:
        journal.write_bytes(b"".join(lines[: last + 1]))
        assert hear([minute], journal=journal) == whole
        assert journal.read_bytes().startswith(b"".join(lines[: last + 1]))


@pytest.mark.parametrize("otherwise", [{"threads": 1}, {"threads": 3}, {"together": 2}, {"threads": 1, "together": 8}])
def test_the_words_hang_on_no_number_of_calls_or_threads(minute, tmp_path, otherwise):
    """Pieces heard side by side, one after another or in one call give the same words, also when a run goes on the other way.

    Their times may move by a hundredth of a second or a few: a piece's place in a longer call is rounded.
    """
    journal = tmp_path / "heard.jsonl"
    words = lambda heard: [w.text for w in heard.words]  # noqa: E731
    whole = hear([minute], journal=journal)
    assert words(hear([minute], HearingSettings(**otherwise))) == words(whole)
    lines = journal.read_bytes().splitlines(keepends=True)
    first = next(i for i, line in enumerate(lines) if b'"segments"' in line)
    journal.write_bytes(b"".join(lines[: first + 1]))
    again = hear([minute], HearingSettings(**otherwise), journal=journal)
    assert words(again) == words(whole)
    assert [w.start for w in again.words] == pytest.approx([w.start for w in whole.words], abs=0.2)
    assert journal.read_bytes().startswith(b"".join(lines[: first + 1]))


def test_a_whole_journal_is_enough(talk, tmp_path, monkeypatch):
    journal = tmp_path / "heard.jsonl"
    first = hear([talk(20, 12)], QUICK, journal=journal)
    monkeypatch.setattr("pipeline.hearing.listening.Listener", None)  # nothing is left for a model to do
    assert hear([talk(20, 12)], QUICK, journal=journal) == first
    with pytest.raises(TypeError):
        hear([talk(20, 12)], HearingSettings(beam_size=2), journal=journal)


def test_silence_noise_and_music_hold_no_speech(clips):
    music = "+".join(f"0.15*sin({f}*2*PI*t)*(1+sin({k}*PI*t))" for k, f in enumerate((220, 277.2, 329.6, 440), 1))
    for name, source in {"silence": "anullsrc=r=16000", "noise": "anoisesrc=a=0.1:seed=1", "music": f"aevalsrc={music}"}.items():
        with pytest.raises(FootageError, match="no speech was found"):
            hear([clips(f"{name}.wav", "-f", "lavfi", "-i", source, "-t", "40")])


def test_another_language_is_named_and_not_transcribed():
    with pytest.raises(FootageError, match=r"sounds like Spanish \(es\)"):
        hear([SPANISH])


def test_bad_clips_are_named(clips, tmp_path):
    silent = clips("silent-3s.mp4", "-f", "lavfi", "-i", "testsrc=size=64x64:rate=5", "-t", "3")
    with pytest.raises(FootageError, match="no sound track"):
        hear([silent, silent])
    with pytest.raises(FootageError, match="no such file"):
        next(listen([silent, tmp_path / "gone.mp4"]))
