"""Values that are said without their unit, and measures of other kinds: offers, for the reader to choose among.

"Eleven spanner" is 11 mm, "new was sixty" after "forty four thou" is 0.060 in, "seven nineteen six" is a bearing. Which words make
what of a bare number is data (trade/values.toml); in which unit, the talk tells nearby.
"""

import re
from dataclasses import dataclass
from functools import cache

from ..trade import data
from ..trade.numbers import BARE, Number, find_bearings, same_unit, thousandths, written

SPOKEN = {"time": 0.5, "angle": 0.5, "turn": 0.2}  # kinds with a unit that are facts only where the reader sees a measure, and how surely
SMALL = ("mm", "in", "cm", "µm")         # units in which parts are measured; line is not
MEASURED = re.compile(r"bearing|race|bush|ball|o-?ring|seal|washer|disc|shim|sleeve|spacer", re.I)
IS_ONE = re.compile(r"(?:\bis|\bwas|'s)\s*$", re.I)  # else "one" counts or points: "the top one"
INCHES = 0.6           # a decimal above is in millimetres: nobody says "one point three" of an inch
INCHES_AT_MOST = 9
BY = re.compile(r"\s*(?:by|x|×)\s*", re.I)


@dataclass(frozen=True)
class Offer:
    """A value that a stretch of sentence i may tell, and how surely by its words alone."""

    sentence: int
    start: int
    end: int
    value: str
    sure: float


@dataclass(frozen=True)
class _Meant:
    unit: str
    before: re.Pattern | None
    after: re.Pattern | None
    near: re.Pattern | None
    never: re.Pattern | None
    decimal: bool
    least: float
    sure: float


@cache
def _rules() -> list[_Meant]:
    made = lambda row, key, shape: re.compile(shape.format(row[key]), re.I) if key in row else None  # noqa: E731
    return [_Meant(r["unit"], made(r, "before", "{}"), made(r, "after", "(?:{})"), made(r, "near", "{}"), made(r, "never", "{}"), r.get("decimal", False), r["least"], r["sure"])
            for r in data("values")["meant"]]


def offered(texts: list[str], numbers: list[list[Number]]) -> list[Offer]:
    """The offers of a talk, in order: `numbers[i]` are those found in sentence `texts[i]`."""
    units = _Units(numbers)
    out = []
    for i, (text, found) in enumerate(zip(texts, numbers)):
        taken: set[int] = set()
        for row in find_bearings(text, found):
            out.append(Offer(i, row.start, row.end, row.value, 0.7))
            taken |= {n.start for n in found if row.start <= n.start < row.end}
        for a, b in zip(found, found[1:]):
            if a.kind == "thread" and a.value.startswith("M") and b.kind in BARE and BY.fullmatch(text[a.end:b.start]):
                out.append(Offer(i, b.start, b.end, f"{b.value} mm", 0.6))  # "M three by eight"
                taken.add(b.start)
            elif a.start not in taken and (pair := _pair(text, a, b)):
                out.append(Offer(i, a.start, b.end, pair, 0.7 if MEASURED.search(text) else 0.4))
                taken |= {a.start, b.start}
        for n in found:
            if n.kind in SPOKEN:
                out.append(Offer(i, n.start, n.end, n.value, SPOKEN[n.kind]))
            elif n.kind in BARE and n.amount and n.start not in taken and not (n.amount == 1 and not IS_ONE.search(text[:n.start])):
                out += _meant(text, i, n, units)
    return out


def _pair(text: str, a: Number, b: Number) -> str | None:
    """ "seven by eleven": two sides of a thing; of an inch where they are fractions of one. """
    if a.kind not in BARE or b.kind not in BARE | {"length"} or None in (a.amount, b.amount) or not BY.fullmatch(text[a.end:b.start]):
        return None
    inches = a.amount.denominator in (4, 8, 16, 32) and "." not in text[a.start:a.end] or b.value.endswith(" in")
    return " x ".join(written(n.amount, fraction=inches) for n in (a, b)) + (" in" if inches else " mm")


def _meant(text: str, i: int, n: Number, units: "_Units") -> list[Offer]:
    """What a bare number measures there: the surest way to take it, if any."""
    before, after, best = text[:n.start], text[n.end:], None
    for rule in _rules():
        if n.amount < rule.least or (rule.decimal and "." not in n.value) or (best and best.sure >= rule.sure):
            continue
        if (rule.before and not rule.before.search(before)) or (rule.after and not rule.after.match(after)) or (rule.near and not rule.near.search(text)):
            continue
        if rule.never and (rule.never.search(before[-12:]) or rule.never.match(after)):
            continue
        if value := units.value(rule.unit, i, n):
            best = Offer(i, n.start, n.end, value, rule.sure)
    return [best] if best else []


class _Units:
    """In which unit a talk measures, near each sentence: the last number that said it, else the next one."""

    def __init__(self, numbers: list[list[Number]]) -> None:
        self.said = [(i, n) for i, found in enumerate(numbers) for n in found]
        self.thou = any(n.kind == "length" and n.value.startswith("0.") and n.value.endswith(" in") for _, n in self.said)

    def near(self, kind: str, i: int, far: int) -> tuple[int, Number] | None:
        """The sentence and the number that said a unit of that kind nearest to sentence i, at most so many sentences away."""
        fits = [(abs(i - at) + 0.5 * (at > i), at, n) for at, n in self.said
                if n.kind == kind and (kind != "length" or n.value.endswith(SMALL) and " x " not in n.value)]
        away, *found = min(fits, key=lambda f: f[0], default=(far + 1,))
        return tuple(found) if away <= far else None

    def value(self, unit: str, i: int, n: Number) -> str | None:
        """The bare number n of sentence i in that unit, as written; None where the talk does not tell."""
        if unit == "ratio":
            return f"{written(n.amount)}:1" if n.amount < 12 else None
        if unit == "same":
            like = min(filter(None, (self.near(kind, i, 2) for kind in ("length", "weight"))), key=lambda like: (abs(i - like[0]), abs(like[1].start - n.start)), default=None)
            unit = like[1].kind if like else None
        if unit is None or n.amount.denominator == 3 or unit == "weight" and n.amount < 1 and "." not in n.value:
            return None  # "a third of the line" is no measure
        if unit in ("weight", "time"):
            like = self.near(unit, i, 40 if unit == "weight" else 2)
            return same_unit(like[1], n).value if like else None
        if "/" in n.value or n.amount.denominator in (8, 16, 32, 64) and n.amount < 12:  # of an inch, however the rest is measured
            return f"{written(n.amount, fraction=True)} in" if unit == "length" or n.amount < 2 else None
        if unit == "mm" or n.amount.denominator > 1 and n.amount > INCHES:
            return f"{written(n.amount)} mm" if n.amount <= 200 else None
        like = self.near("length", i, 200)
        if not like or not like[1].value.endswith(" in"):
            return f"{written(n.amount)} mm" if n.amount < 200 else None
        if n.amount > (2 if self.thou else INCHES_AT_MOST):  # "sixty" is 0.060 in where inches are spoken of
            return thousandths(n.amount / (1000 if n.amount >= 1000 and n.amount % 1000 == 0 else 1))  # "68,000" was "68 thousandths"
        return f"{written(n.amount)} in"
