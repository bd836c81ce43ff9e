"""What the trade knows, as data files, and their loader. The shop's glossary extends it."""

import tomllib
from dataclasses import dataclass, field
from functools import cache, cached_property
from pathlib import Path
from typing import Literal

Group = Literal["part", "tool", "supply"]
_HERE = Path(__file__).resolve().parent


@dataclass(frozen=True, slots=True)
class Term:
    """One thing of the trade: its plain name, and the other names that are just as right."""

    name: str
    group: Group
    also: tuple[str, ...] = ()
    reels: tuple[str, ...] = ()      # kinds of reel that have it; empty: any
    assembly: str | None = None      # what it belongs to on the reel ("drag", "level wind")
    sized: bool = False              # named with its size ("7/16 wrench"), each size a tool of its own

    @property
    def names(self) -> tuple[str, ...]:
        return (self.name, *self.also)


def family_and_number(model: str) -> tuple[str, str]:
    """"Gannet LD 30" is a Gannet LD, number 30."""
    family, number = (" ".join(w for w in model.split() if any(c.isdigit() for c in w) == figures) for figures in (False, True))
    return family, number


LONG = 3   # figures from which a number is hardly anything but a model's


@dataclass(frozen=True)
class Glossary:
    """The channel's own words, read from glossary.toml."""

    makers: tuple[str, ...] = ()
    models: tuple[tuple[str, str], ...] = ()                 # (maker, model)
    terms: tuple[Term, ...] = ()                             # parts, tools and supplies of its own
    hear_as: dict[str, str] = field(default_factory=dict)    # what the model hears: what was meant
    leave: tuple[str, ...] = ()                              # words never to be mended, or never to be mended to

    @cached_property
    def numbers(self) -> dict[str, set[str]]:
        """Each family of models as written, to their numbers, "" for one that has none."""
        known: dict[str, set[str]] = {}
        for _, model in self.models:
            family, number = family_and_number(model)
            known.setdefault(family, set()).add(number)
        return known

    def lacks(self, family: str, number: str) -> bool:
        """Has it models of this family, none of them with this short number? A long number is hardly anything but a sister's that is not listed."""
        own = self.numbers.get(family)
        return bool(own) and len(number) < LONG and not own & {number, ""}


@dataclass(frozen=True)
class Trade:
    """Everything known before the episode: the trade's words and the channel's own."""

    terms: tuple[Term, ...]
    glossary: Glossary = Glossary()

    def group(self, group: Group) -> tuple[Term, ...]:
        return tuple(t for t in self.terms if t.group == group)


def kinds_called(text: str) -> dict[str, int]:
    """How often each kind of reel is called by name in a text in lower case, without hyphens; only those that are."""
    return {kind: said for kind, wordings in data("parts")["called"].items() if (said := sum(text.count(w) for w in wordings))}


def data(name: str) -> dict:
    """One data file of the trade, by its name without ending."""
    return _data(name)


@cache
def _data(name: str) -> dict:
    return tomllib.loads((_HERE / f"{name}.toml").read_text("utf-8"))


def load_trade(glossary: Glossary = Glossary()) -> Trade:
    terms = [
        Term(row["name"], group, tuple(row.get("also", ())), tuple(row.get("reels", ())), row.get("assembly"), row.get("sized", False))
        for name, group in (("parts", "part"), ("tools", "tool"), ("supplies", "supply"))
        for row in data(name)[group]
    ]
    return Trade(tuple(terms) + glossary.terms, glossary)
