"""Where the stream is cut: the same cuts however it comes, from wherever one goes on."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.hearing.footage import RATE, probe, sound
from pipeline.hearing.pieces import LONG_SILENCE, PIECE, Piece, pieces

SILENCE = np.zeros(10 * RATE, np.float32)


@pytest.fixture(scope="module")
def samples(talk) -> np.ndarray:
    return np.concatenate(list(sound(probe(talk(20, 100)))))


@pytest.fixture(scope="module")
def whole(samples) -> list[Piece]:
    return list(pieces([samples]))


def cuts(some) -> list[tuple]:
    return [(p.start, p.end, p.spans) for p in some]


def test_pieces_are_long_but_not_too_long(whole, samples):
    assert 4 <= len(whole) <= 5
    assert all(20 * RATE <= len(p.audio) <= PIECE for p in whole[:-1]) and len(whole[-1].audio) <= PIECE
    assert [p.end for p in whole[:-1]] == [p.start for p in whole[1:]] and whole[-1].end <= len(samples)


def test_a_piece_is_what_its_spans_say(whole, samples):
    for piece in whole:
        assert np.array_equal(piece.audio, np.concatenate([samples[a:b] for a, b in piece.spans]))
        assert all(piece.start <= a < b <= piece.end for a, b in piece.spans)


def test_cuts_fall_in_pauses(whole, samples):
    loudness = np.sqrt(np.mean(samples**2))
    for piece in whole[:-1]:
        around = samples[piece.end - RATE // 50 : piece.end + RATE // 50]
        assert np.sqrt(np.mean(around**2)) < loudness / 4


@settings(max_examples=5, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(sizes=st.lists(st.integers(1, 40 * RATE), min_size=1, max_size=12))
def test_how_the_stream_is_sliced_makes_no_difference(whole, samples, sizes):
    assert cuts(pieces(np.split(samples, np.cumsum(sizes).clip(max=len(samples))))) == cuts(whole)


def test_going_on_from_any_cut_gives_the_same_rest(whole, samples):
    for i, piece in enumerate(whole, 1):
        assert cuts(pieces([samples], piece.end)) == cuts(whole[i:])


def test_moments_lead_back_to_the_clip(whole):
    for piece in whole:
        at = 0
        for a, b in piece.spans:
            assert piece.moments((at + 1) / RATE, (at + 2) / RATE) == pytest.approx(((a + 1) / RATE, (a + 2) / RATE))
            assert piece.moments((at + 9) / RATE, (at + b - a + 5) / RATE) == pytest.approx(((a + 9) / RATE, b / RATE))
            at += b - a


def test_silence_and_noise_and_nothing_hold_no_voice():
    noise = np.random.default_rng(1).normal(0, 0.05, 40 * RATE).astype(np.float32)
    for stream in ([], [np.zeros(0, np.float32)], [SILENCE[:100]], [SILENCE] * 30, [noise]):
        assert list(pieces(stream)) == []


def test_a_long_silence_ends_a_piece_and_is_not_held(samples):
    quiet = 2 * LONG_SILENCE // len(SILENCE)
    first, second = pieces([samples[: 15 * RATE], *[SILENCE] * quiet, samples[: 15 * RATE]])
    assert first.end < 16 * RATE
    assert second.start > 15 * RATE + LONG_SILENCE / 2 and len(second.audio) == pytest.approx(len(first.audio), abs=RATE)
