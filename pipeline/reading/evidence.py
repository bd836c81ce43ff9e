"""What speaks for and against a step, each evidence one number, and how likely the step is right on all of it.

The weights stand in `trade/steps.toml` and `exchange.toml`, fitted by benchmarks/teach/settle.py and exchanges.py over episodes as read by a reader that was not taught them.
"""

from functools import cache
from math import exp, log

from ..trade import data


def confidence(evidence: dict[str, float]) -> float:
    """How likely a step is right: a logistic model, 0 to 1."""
    return logistic("steps", evidence)


def logistic(rules: str, signs: dict[str, float]) -> float:
    """0 to 1: the chance that a fitted model of the trade's data gives, each sign by its weight."""
    at_first, weights = _model(rules)
    return 1 / (1 + exp(-max(-30.0, min(30.0, at_first + sum(weight * signs.get(name, 0.0) for name, weight in weights.items())))))


@cache
def _model(rules: str) -> tuple[float, dict[str, float]]:
    return data(rules)["at_first"], data(rules)["weights"]


@cache
def referring() -> dict[str, float]:
    """What each sign weighs that a part is meant by a pronoun, or by what is left out."""
    return data("steps")["referring"]


def odds(chance: float) -> float:
    """Log odds, kept within reach of each other."""
    chance = min(max(chance, 1e-3), 1 - 1e-3)
    return log(chance / (1 - chance))
