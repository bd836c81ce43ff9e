"""The wordings of pipeline/trade/questions.toml, ready for use."""

import re
from dataclasses import dataclass
from functools import cache

from ..trade import data


@dataclass(frozen=True)
class Cue:
    """A wording and how much it says. `unless_trade`: it says nothing where a thing of the trade is named."""

    say: re.Pattern
    weight: float
    never: re.Pattern | None = None
    unless_trade: bool = False

    def fires(self, text: str, trade_named: bool) -> bool:
        return not (self.unless_trade and trade_named) and bool(self.say.search(text)) and not (self.never and self.never.search(text))


@dataclass(frozen=True)
class Want:
    """What a question is after: which wordings ask for it, which facts, actions and wordings answer it."""

    name: str
    asks: re.Pattern
    told: re.Pattern
    kinds: dict[str, float]
    do: frozenset[str]
    named: frozenset[str]
    must: bool
    vague: bool


def pattern(says: list[str]) -> re.Pattern:
    words = data("questions")["words"]
    return re.compile("|".join(f"(?:{re.sub(r'{([a-z]+)}', lambda m: words[m[1]], say)})" for say in says))


@cache
def cues(kind: str) -> tuple[Cue, ...]:
    return tuple(
        Cue(pattern(row["say"]), row["weight"], pattern(row["not"]) if "not" in row else None, row.get("unless_trade", False))
        for row in data("questions")[kind])


@cache
def one(kind: str) -> re.Pattern:
    return pattern(data("questions")[kind]["say"])


@cache
def wants() -> tuple[Want, ...]:
    return tuple(
        Want(row["name"], pattern(row["asks"]), pattern(row["told"]), row.get("kinds", {}), frozenset(row.get("do", ())),
             frozenset(row.get("named", ())), row.get("must", False), row.get("vague", False))
        for row in data("questions")["want"])


def wanted(*texts: str) -> tuple[Want, ...]:
    """What a question is after, in the order of its words; of several texts the first that says so."""
    for text in texts:
        found = sorted(((m.start(), i) for i, want in enumerate(wants()) if (m := want.asks.search(text))))
        if found:
            named = [wants()[i] for _, i in found]
            return tuple(w for w in named if not w.vague) or tuple(named)
    return ()
