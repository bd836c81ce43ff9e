"""The row of chapters that an episode most likely falls into: a segmental model with fitted weights.

Of every way to cut the sentences into chapters, each with a phase, a score says how likely it is: what its sentences say for
its phase, how much its first sentence sounds like an opening, its length, and the phase before it. The scores of all ways
are summed by dynamic programming (semi-Markov conditional random field: Sarawagi and Cohen 2004), which gives how likely a
chapter begins at each sentence. The cut that is published is the one of which most starts can be expected to be right.
"""

from dataclasses import dataclass
from functools import cache
from typing import get_args

import numpy as np

from ..record import Phase
from ..trade import data

PHASES: tuple[str, ...] = get_args(Phase)
USUAL_LENGTH = 42.0   # seconds, in an episode of ten minutes; grows with the root of the episode's length
LONGEST = 4.5         # usual lengths
NEAR = 10.0           # seconds: a start this near to the true one serves a viewer as well
DOUBT = {"few": 0.65, "usual": 0.45, "many": 0.3}  # how likely a start must be before it is worth setting
SHARP = 0.3           # how much more the very sentence counts than its neighbourhood


@dataclass(frozen=True)
class Weights:
    """What the fitting found. K features of an opening, M of what a sentence says, P phases."""

    opening: np.ndarray  # K
    says: np.ndarray     # M x P
    follows: np.ndarray  # P x P: the phase before, the phase after
    first: np.ndarray    # P
    length: np.ndarray   # 4, for `lengths`


@dataclass(frozen=True)
class Talk:
    """One episode's sentences as the model sees them: n sentences."""

    times: np.ndarray    # n + 1 seconds: where each begins, where the last ends; the first at 0
    opening: np.ndarray  # n x K
    says: np.ndarray     # n x M
    shown: np.ndarray | float = 0.0  # n: what the picture adds to each opening, weighed already

    @property
    def usual(self) -> float:
        return USUAL_LENGTH * max(1.0, self.times[-1] / 600) ** 0.5


@dataclass(frozen=True)
class Belief:
    """What the model holds likely, over all ways to cut."""

    log_sum: float        # the logarithm of all scores' sum
    begins: np.ndarray    # n x P: a chapter of this phase begins at this sentence
    holds: np.ndarray     # n x P: this sentence stands in a chapter of this phase
    turns: np.ndarray     # P x P: expected changes from phase to phase
    lengths: np.ndarray   # 4: expected sum of `lengths` over the chapters


@cache
def load_weights(opening: tuple[str, ...], says: tuple[str, ...]) -> Weights:
    """The fitted weights, in the order of these features; a feature that was not there when they were fitted weighs nothing."""
    kept = data("chapters")
    return Weights(
        np.array([kept["opening"].get(name, 0.0) for name in opening]), np.array([[kept["says"].get(name, {}).get(p, 0.0) for p in PHASES] for name in says]),
        np.array([[kept["follows"][p].get(q, 0.0) for q in PHASES] for p in PHASES]),
        np.array([kept["first"].get(p, 0.0) for p in PHASES]), np.array(kept["length"]))


def lengths(x: np.ndarray) -> np.ndarray:
    """What is known of a chapter by its length, x = log(length / usual length): 4 rows."""
    return np.stack([x, x * x, np.maximum(0.0, -x - 0.7), np.maximum(0.0, x - 0.7)])


def believe(talk: Talk, weights: Weights, least: float) -> Belief:
    """Forward and backward over all cuts into chapters of at least `least` seconds. The whole talk must be that long."""
    times, n, size = talk.times, len(talk.says), len(PHASES)
    opening = talk.opening @ weights.opening + talk.shown
    opening[0] = 0.0
    said = np.concatenate([np.zeros((1, size)), (talk.says @ weights.says).cumsum(0)])
    # a chapter that ends before sentence `last` begins at one of low[last] … high[last] - 1
    high = np.searchsorted(times, times - least + 1e-9, side="right")
    low = np.minimum(np.searchsorted(times, times - LONGEST * talk.usual), np.maximum(high - 1, 0))
    ahead = np.full((n + 1, size), -np.inf)   # all that went before a chapter of this phase that begins here
    ended = np.full((n + 1, size), -np.inf)   # all up to a chapter of this phase that ends here
    ahead[0] = weights.first

    def chapters_to(last: int) -> tuple[slice, np.ndarray, np.ndarray]:
        """Every chapter that ends before this sentence: where it begins, its length, its score by phase."""
        begin = slice(low[last], high[last])
        known = lengths(np.log((times[last] - times[begin]) / talk.usual))
        return begin, known, (weights.length @ known + opening[begin])[:, None] + (said[last] - said[begin])

    for last in range(1, n + 1):
        begin, _, score = chapters_to(last)
        if len(score):
            ended[last] = _log_sum(ahead[begin] + score, 0)
            ahead[last] = _log_sum(ended[last][:, None] + weights.follows, 0)
    rest = np.full((n + 1, size), -np.inf)    # all from a chapter of this phase on that begins here
    after = np.full((n + 1, size), -np.inf)   # all that comes after a chapter of this phase that ends here
    after[n] = 0.0
    total = _log_sum(ended[n], 0)
    turns, summed = np.zeros((size, size)), np.zeros(4)
    for last in range(n, 0, -1):
        begin, known, score = chapters_to(last)
        if last < n:
            turn = weights.follows + rest[last]
            after[last] = _log_sum(turn, 1)
            turns += np.exp(ended[last][:, None] + turn - total)
        if len(score):
            score += after[last]
            rest[begin] = np.logaddexp(rest[begin], score)
            summed += known @ np.exp(ahead[begin] + score - total).sum(1)
    begins, ends = np.exp(ahead[:n] + rest[:n] - total), np.exp(ended + after - total)
    holds = begins.cumsum(0) - ends[:n].cumsum(0)
    return Belief(float(total), begins, holds, turns, summed)


def _log_sum(values: np.ndarray, axis: int) -> np.ndarray:
    return np.logaddexp.reduce(values, axis=axis)


def best_cut(talk: Talk, belief: Belief, least: float, number: str = "usual") -> list[int]:
    """The sentences that chapters begin at, the first 0: where most starts can be expected within `NEAR` seconds of a true one.

    A start is worth the likelihood of all starts near it (each counted for the nearest only) and its own, less the doubt.
    """
    times, end = talk.times[:-1], talk.times[-1]
    own = belief.begins.sum(1)
    own[0] = 0.0
    mass = np.concatenate([[0.0], own.cumsum()])
    up_to = lambda seconds: mass[np.searchsorted(times, seconds, side="right")]
    best, came = np.full(len(times), -np.inf), np.zeros(len(times), int)
    best[0] = 0.0
    for i in range(1, len(times)):
        before = np.arange(np.searchsorted(times, times[i] - least + 1e-9, side="right"))
        if end - times[i] < least or not len(before):
            continue
        middle = np.where(before == 0, -1.0, (times[before] + times[i]) / 2)
        worth = best[before] + mass[i] - up_to(np.maximum(times[i] - NEAR, middle) - 1e-9)
        worth += np.where(before == 0, 0.0, up_to(np.minimum(times[before] + NEAR, middle - 1e-9)) - mass[before + 1])
        came[i] = worth.argmax()
        best[i] = worth[came[i]] + (1 + SHARP) * own[i] - DOUBT[number]
    after = up_to(times + NEAR) - mass[1:]
    after[0] = 0.0
    starts, at = [], int((best + after).argmax())
    while at:
        starts.append(at)
        at = int(came[at])
    return [0, *reversed(starts)]
