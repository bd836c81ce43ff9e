"""The guard against what speech models invent."""

from dataclasses import replace

import numpy as np
import pytest
from faster_whisper.transcribe import Word as HeardWord
from hypothesis import given
from hypothesis import strategies as st

from pipeline.hearing import HearingSettings
from pipeline.hearing.footage import probe, sound
from pipeline.hearing.pieces import pieces
from pipeline.hearing.speech import DOUBT, HINT_LETTERS, LONGEST_WORD, REPEATS, Listener, _hyphened, echoes, hint_of, in_order, without_loops
from pipeline.hearing.words import Word


def words(text: str) -> list[Word]:
    return [Word(text=t, start=i, end=i + 1, probability=0.9) for i, t in enumerate(text.split())]


def text(some: list[Word]) -> str:
    return " ".join(w.text for w in some)


def test_a_loop_is_said_once():
    assert text(without_loops(words("then the bail " + "comes off and " * 40 + "that is it"))) == "then the bail comes off and that is it"
    assert text(without_loops(words("Yes " + "you. You, " * 20))) == "Yes you."


def test_what_a_host_repeats_stays():
    for said in ("click click click click there it goes", "round and round and round we go", "no no no, not that one", "back it out, back it out, easy"):
        assert text(without_loops(words(said))) == said


@given(st.lists(st.sampled_from("abcd"), max_size=60))
def test_only_repeats_are_left_out(letters):
    kept = without_loops(words(" ".join(letters)))
    assert [w.start for w in kept] == sorted({w.start for w in kept})
    assert {w.text for w in kept} == set(letters)
    if len(letters) < min(size * most for size, most in REPEATS.items()):
        assert len(kept) == len(letters)


@given(st.lists(st.tuples(st.floats(-1, 50), st.floats(-1, 50)), max_size=20))
def test_times_follow_one_another(times):
    kept = in_order([Word(text="x", start=a, end=b) for a, b in times], 5, 40)
    flat = [t for w in kept for t in (w.start, w.end)]
    assert flat == sorted(flat) and all(5 <= t <= 40 for t in flat)
    assert all(w.end - w.start <= LONGEST_WORD + 0.001 for w in kept)


def test_a_hint_fits_and_says_nothing_twice():
    assert hint_of(["Side plate.", "Side plate.", "Bail wire."]) == "Side plate. Bail wire."
    assert hint_of([]) is None
    assert 0 < len(hint_of([f"Part {i}." for i in range(1000)])) <= HINT_LETTERS


def test_a_hint_read_back_is_no_talk():
    hint = "Pawl, pinion, spool. Yoke, O-ring, level wind."
    assert echoes(" Pinion spool, yoke. O-ring, level", hint)
    assert not echoes("Pinion, spool, yoke.", hint), "a host may list three parts"
    assert not echoes("The pinion, the spool, the yoke, an O-ring and the level wind.", hint)
    assert not echoes("Pinion spool yoke o-ring level", None)


def test_what_hangs_on_a_hyphen_is_one_word():
    parts = [(" Part", 0.9), (" 62", 0.8), ("-301", 0.6), ("-2.", 0.9), (" And", 0.9), (" -", 0.5), (" five", 0.9)]
    given = [HeardWord(start=i, end=i + 1, word=text, probability=p) for i, (text, p) in enumerate(parts)]
    assert [(w.word, w.start, w.end, w.probability) for w in _hyphened(given)] == [
        (" Part", 0, 1, 0.9), (" 62-301-2.", 1, 4, 0.6), (" And", 4, 5, 0.9), (" -", 5, 6, 0.5), (" five", 6, 7, 0.9)]
    assert list(_hyphened([])) == []


@pytest.fixture(scope="module")
def listener():
    return Listener(HearingSettings(together=1))


@pytest.fixture(scope="module")
def minute(talk):
    return np.concatenate(list(sound(probe(talk(20, 60)))))


@pytest.fixture(scope="module")
def segments(listener, minute):
    return [s for _, some in listener._listen(pieces(minute), minute) for s in some]


def test_a_troubled_stretch_is_heard_again_by_itself(listener, minute, segments):
    first, *rest = segments
    troubled = [first, *(replace(s, avg_logprob=DOUBT - 1) for s in rest)]  # as the model marks them on a bad day
    again = listener._untroubled(troubled, minute)
    assert again[0] == first and len(again) > 1
    assert all(s.avg_logprob > DOUBT for s in again)

    def moments(some) -> dict[str, float]:
        return {w.word: w.start for s in some for w in s.words}

    was, now = moments(segments), moments(again)
    both = was.keys() & now.keys()
    assert len(both) > 0.8 * len(was)
    assert sum(abs(was[word] - now[word]) < 0.5 for word in both) > 0.9 * len(both)


def test_what_is_not_in_trouble_is_not_heard_again(listener, minute, segments, monkeypatch):
    monkeypatch.setattr(listener, "model", None)  # nothing is left for it to do
    assert listener._untroubled(segments, minute) == segments
