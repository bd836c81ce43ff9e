"""The segmental model against counting by hand: every cut of a short talk, scored one by one."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.arranging.segments import LONGEST, PHASES, Talk, Weights, believe, best_cut, lengths

LEAST = 10.0


def a_talk(n: int, seed: int) -> tuple[Talk, Weights]:
    chance = np.random.default_rng(seed)
    talk = Talk(np.append(0.0, chance.uniform(4, 30, n).cumsum()), chance.random((n, 3)), chance.random((n, 2)))
    size = len(PHASES)
    return talk, Weights(chance.normal(size=3), chance.normal(size=(2, size)), chance.normal(size=(size, size)), chance.normal(size=size), chance.normal(size=4))


def by_hand(talk: Talk, weights: Weights, phases: range) -> tuple[float, np.ndarray]:
    """The logarithm of all cuts' scores, and how likely a chapter begins at each sentence, counted one by one over some of the phases."""
    n, total, begins = len(talk.says), 0.0, np.zeros(len(talk.says))
    for inner in itertools.chain.from_iterable(itertools.combinations(range(1, n), k) for k in range(n)):
        starts, ends = [0, *inner], [*inner, n]
        long = [talk.times[z] - talk.times[a] for a, z in zip(starts, ends)]
        if any(d < LEAST or d > LONGEST * talk.usual and z - a > 1 for d, a, z in zip(long, starts, ends)):
            continue
        for row in itertools.product(phases, repeat=len(starts)):
            score = weights.first[row[0]]
            for i, (a, z, d, p) in enumerate(zip(starts, ends, long, row)):
                score += weights.length @ lengths(np.log(np.array([d / talk.usual])))[:, 0] + (talk.says[a:z] @ weights.says)[:, p].sum()
                score += (talk.opening[a] @ weights.opening + weights.follows[row[i - 1], p]) if i else 0.0
            total += np.exp(score)
            begins[starts] += np.exp(score)
    return float(np.log(total)), begins / total


@pytest.mark.parametrize("seed", range(4))
def test_the_sum_over_all_cuts_is_the_sum_over_all_cuts(seed):
    talk, weights = a_talk(5, seed)
    # a phase that costs a thousand is out, so that three are left to count by hand
    weights.first[3:], weights.follows[:, 3:] = -1000.0, -1000.0
    belief = believe(talk, weights, LEAST)
    log_sum, begins = by_hand(talk, weights, range(3))
    assert belief.log_sum == pytest.approx(log_sum)
    assert belief.begins.sum(1) == pytest.approx(begins)


@settings(max_examples=30, deadline=None)
@given(st.integers(2, 40), st.integers(0, 10**6))
def test_what_is_believed_is_a_likelihood(n, seed):
    talk, weights = a_talk(n, seed)
    if talk.times[-1] < 2 * LEAST:
        return
    belief = believe(talk, weights, LEAST)
    assert belief.holds.sum(1) == pytest.approx(np.ones(n))            # every sentence stands in one chapter
    assert belief.begins[0].sum() == pytest.approx(1.0)                # the first opens one
    assert belief.turns.sum() == pytest.approx(belief.begins[1:].sum())  # every later chapter follows another
    cut = best_cut(talk, belief, LEAST)
    starts = [*talk.times[cut], talk.times[-1]]
    assert cut[0] == 0 and all(b - a >= LEAST - 1e-6 for a, b in zip(starts, starts[1:]))


def doubtful(weight: float) -> tuple[Talk, Weights]:
    """Twelve sentences of twelve seconds; the sixth alone looks like an opening, more or less."""
    n, size = 12, len(PHASES)
    talk = Talk(np.arange(n + 1) * 12.0, np.zeros((n, 1)), np.zeros((n, 1)))
    talk.opening[5] = 1.0
    return talk, Weights(np.array([weight]), np.zeros((1, size)), np.full((size, size), -9.0), np.zeros(size), np.zeros(4))


def test_a_start_that_is_sure_is_taken_and_one_that_is_not_is_left():
    for weight, cut in ((14.0, [0, 5]), (2.0, [0])):
        talk, weights = doubtful(weight)
        assert best_cut(talk, believe(talk, weights, LEAST), LEAST) == cut


def test_few_wants_to_be_surer_than_many():
    talk, weights = doubtful(6.5)  # about even
    belief = believe(talk, weights, LEAST)
    assert 0.3 < belief.begins[5].sum() < 0.7
    assert best_cut(talk, belief, LEAST, "few") == [0] and best_cut(talk, belief, LEAST, "many") == [0, 5]
