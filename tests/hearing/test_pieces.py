"""Voice in pieces: short enough for the model, nothing twice, nothing cut in the middle of a word."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.hearing.footage import RATE, probe, sound
from pipeline.hearing.pieces import FULL, LONGEST, PAD, pieces


@pytest.fixture(scope="module")
def samples(talk) -> np.ndarray:
    return np.concatenate(list(sound(probe(talk(20, 200)))))


def spans(some) -> list[tuple[int, int]]:
    return [span for piece in some for span in piece.spans]


def test_pieces_are_full_and_hold_all_that_is_said_once(samples):
    found = pieces(samples)
    flat = [edge for span in spans(found) for edge in span]
    assert flat == sorted(flat) and 0 <= flat[0] and flat[-1] <= len(samples)
    assert all(piece.length <= LONGEST * RATE and len(piece.of(samples)) == piece.length for piece in found)
    assert all(piece.length >= (FULL - LONGEST / 10) * RATE for piece in found[:-1])
    left_out = np.ones(len(samples), bool)
    for start, end in spans(found):
        left_out[start:end] = False
    assert np.square(samples[left_out]).sum() < 0.001 * np.square(samples).sum()


def test_pieces_end_where_the_host_pauses(samples):
    loudness = np.sqrt(np.mean(samples**2))
    for piece in pieces(samples)[:-1]:
        end = piece.spans[-1][1]
        assert np.sqrt(np.mean(samples[end - RATE // 10 : end + RATE // 10] ** 2)) < loudness / 4


def test_of_a_long_pause_a_short_one_is_left(samples):
    talk = samples[: 10 * RATE]
    found = pieces(np.concatenate([talk, np.zeros(60 * RATE, np.float32), talk]))
    assert len(found) == 1 and found[0].length <= 2 * len(talk) + 2 * PAD
    (_, before), (after, _) = next((a, b) for a, b in zip(spans(found), spans(found)[1:]) if b[0] - a[1] > 30 * RATE)
    assert before <= len(talk) + PAD and after >= len(talk) + 60 * RATE - PAD


def test_talk_without_a_pause_is_cut_all_the_same(samples):
    voice = np.concatenate([piece.of(samples) for piece in pieces(samples)])
    gapless = np.concatenate([voice[a:b] for a, b in spans(pieces(voice))])
    assert all(piece.length <= LONGEST * RATE for piece in pieces(gapless))


def test_no_voice_no_pieces():
    assert pieces(np.zeros(0, np.float32)) == [] and pieces(np.zeros(40 * RATE, np.float32)) == []


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(length=st.integers(1, 20 * RATE))
def test_however_long_the_sound(length, samples):
    found = pieces(samples[:length])
    assert sum(piece.length for piece in found) <= length
