"""Where the stream is cut: the same cuts however it comes, from wherever one goes on."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.hearing.footage import RATE, probe, sound
from pipeline.hearing.windows import windows

LONGEST = 30 * RATE


@pytest.fixture(scope="module")
def samples(talk) -> np.ndarray:
    return np.concatenate(list(sound(probe(talk(20, 100)))))


def cuts(some) -> list[tuple[int, int]]:
    return [(w.start, w.end) for w in some]


def test_windows_hold_every_sample_once(samples):
    whole = list(windows([samples], LONGEST))
    assert np.array_equal(np.concatenate([w.audio for w in whole]), samples)
    assert [w.start for w in whole] == [0, *(w.end for w in whole[:-1])] and whole[-1].end == len(samples)
    assert all(LONGEST / 2 <= len(w.audio) <= LONGEST for w in whole[:-1]) and len(whole[-1].audio) <= LONGEST


def test_cuts_fall_in_pauses(samples):
    loudness = np.sqrt(np.mean(samples**2))
    for window in list(windows([samples], LONGEST))[:-1]:
        around = samples[window.end - RATE // 10 : window.end + RATE // 10]
        assert np.sqrt(np.mean(around**2)) < loudness / 4


def test_the_one_pause_is_found():
    noise = np.random.default_rng(1).normal(0, 0.1, 40 * RATE).astype(np.float32)
    noise[20 * RATE : 21 * RATE] *= 0.1
    assert next(windows([noise], LONGEST)).end / RATE == pytest.approx(20.5, abs=0.3)


@settings(max_examples=20, deadline=None)
@given(sizes=st.lists(st.integers(1, 40 * RATE), min_size=1, max_size=12), seed=st.integers(0, 99))
def test_how_the_stream_is_sliced_makes_no_difference(sizes, seed):
    stream = np.random.default_rng(seed).normal(0, 0.1, 100 * RATE).astype(np.float32)
    sliced = np.split(stream, np.cumsum(sizes).clip(max=len(stream)))
    whole = cuts(windows([stream], LONGEST))
    assert cuts(windows(sliced, LONGEST)) == whole
    for i, (_, end) in enumerate(whole, 1):
        assert cuts(windows(sliced, LONGEST, end)) == whole[i:]


def test_nothing_is_no_window():
    assert list(windows([], LONGEST)) == list(windows([np.zeros(0, np.float32)], LONGEST)) == []
