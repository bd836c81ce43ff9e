"""The metrics that chapters are measured with (nltk's Pk and WindowDiff) against segeval's and against what their papers say.

Beeferman, Berger and Lafferty, "Statistical models for text segmentation", 1999 (Pk, section on evaluation); Pevzner and Hearst, "A critique and
improvement of an evaluation metric for text segmentation", 2002 (figures 1 to 3 and WindowDiff). Both quoted from memory.
"""

import random

import pytest
import segeval
from hypothesis import given
from hypothesis import strategies as st
from nltk.metrics.segmentation import pk, windowdiff

K = 4
masks = st.integers(12, 80).flatmap(lambda n: st.tuples(*[st.text("01", min_size=n, max_size=n)] * 2))


def masses(mask: str) -> tuple[int, ...]:
    """Lengths of the segments between the boundaries of a mask, as segeval wants them."""
    return tuple(len(part) + 1 for part in mask.split("1"))


def mask(n: int, *boundaries: int) -> str:
    return "".join("1" if i in boundaries else "0" for i in range(n))


def wrong(metric, truth: str, guess: str) -> int:
    """How many positions of the probe are penalised."""
    return round(metric(truth, guess, K) * (len(truth) - K + 1))


@given(masks, st.integers(2, 8))
def test_two_implementations_agree(pair, k):
    truth, guess = pair
    assert pk(truth, guess, k) == pytest.approx(float(segeval.pk(masses(guess), masses(truth), window_size=k)))
    assert windowdiff(truth, guess, k) == pytest.approx(float(segeval.window_diff(masses(guess), masses(truth), window_size=k)))


def test_a_missed_boundary_costs_k_by_either_metric():
    """Pevzner and Hearst, figure 1: the probe has four boundaries between its ends; the penalty for a miss is always k."""
    truth = mask(40, 10, 20, 30)
    for metric in (pk, windowdiff):
        assert wrong(metric, truth, mask(40, 10, 30)) == K


def test_what_an_invented_boundary_costs_by_pk_depends_on_where_it_stands():
    """Pevzner and Hearst, figure 2: k far from any true boundary, less near one, nothing right beside two; WindowDiff charges k everywhere."""
    truth, crowded = mask(40, 10, 20, 30), mask(40, 10, 12, 30)
    for invented, cost in ((15, K), (12, K // 2)):
        guess = mask(40, 10, invented, 20, 30)
        assert wrong(pk, truth, guess) == cost and wrong(windowdiff, truth, guess) == K
    guess = mask(40, 10, 11, 12, 30)
    assert wrong(pk, crowded, guess) == 0 and wrong(windowdiff, crowded, guess) == K


def test_a_near_miss_costs_twice_its_offset():
    """Pevzner and Hearst, figure 3: each end of the shift is penalised once for every unit of it, while it is under k."""
    truth = mask(40, 20)
    for offset in (1, 2, 3):
        for metric in (pk, windowdiff):
            assert wrong(metric, truth, mask(40, 20 + offset)) == 2 * offset


def test_ways_that_look_at_nothing_score_about_one_half():
    """Beeferman et al.: with k half the mean true length, no boundaries, boundaries everywhere and boundaries at random come out near 0.5."""
    chance = random.Random(1999)
    truth = "".join(chance.choices("01", (19, 1), k=20_000))
    k = round(len(truth) / (2 * (truth.count("1") + 1)))
    at_random = "".join(chance.choices("01", (19, 1), k=20_000))
    assert pk(truth, truth, k) == 0
    assert pk(truth, "0" * len(truth), k) == pytest.approx(0.5, abs=0.12)
    assert pk(truth, "1" * len(truth), k) == pytest.approx(0.5, abs=0.12)
    assert pk(truth, at_random, k) == pytest.approx(0.5, abs=0.12)
    assert windowdiff(truth, "1" * len(truth), k) == pytest.approx(1.0, abs=0.01)  # WindowDiff also counts how many are too much
