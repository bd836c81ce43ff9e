"""Numbers against published tables. The figures below are written down from memory of the tables named."""

from fractions import Fraction

import pytest

from pipeline.trade import data
from pipeline.trade.numbers import find_numbers


def only(text: str) -> str:
    (number,) = find_numbers(text)
    return number.value


# ISO 261 / ISO 262, coarse pitches, from memory: nominal diameter, pitch in mm
ISO_262 = {"2": "0.4", "2.5": "0.45", "3": "0.5", "4": "0.7", "5": "0.8", "6": "1", "8": "1.25", "10": "1.5"}


@pytest.mark.parametrize("size, pitch", ISO_262.items())
def test_metric_coarse_threads(size, pitch):
    assert data("sizes")["metric_coarse"][size] == pitch
    assert only(f"M{size} by {pitch}") == f"M{size} x {pitch}"


# ASME B1.1, UNC and UNF, from memory
B1_1 = [("0", 80), ("1", 64), ("2", 56), ("4", 40), ("4", 48), ("5", 40), ("6", 32), ("6", 40), ("8", 32), ("8", 36), ("10", 24), ("10", 32),
        ("12", 24), ("1/4", 20), ("1/4", 28), ("5/16", 18), ("5/16", 24), ("3/8", 16), ("3/8", 24), ("7/16", 20), ("1/2", 13), ("1/2", 20)]


@pytest.mark.parametrize("size, pitch", B1_1)
def test_unified_threads(size, pitch):
    assert pitch in data("sizes")["threads"][size]
    assert only(f"{size}-{pitch}") == f"{size}-{pitch}"


def test_numbered_sizes_grow_with_their_formula():
    # ASME B1.1: a numbered size n is 0.060 + 0.013 n inches across, so they lie below the quarter inch and in order
    sizes = [int(s) for s in data("sizes")["threads"] if "/" not in s]
    across = [Fraction("0.060") + n * Fraction("0.013") for n in sizes]
    assert across == sorted(across) and across[-1] < Fraction(1, 4)


@pytest.mark.parametrize("grade", ["000", "00", "0", "1", "2", "3", "4", "5", "6"])  # NLGI grades after ASTM D217, from memory
def test_grease_grades(grade):
    said = {"000": "triple zero", "00": "double zero", "0": "zero"}.get(grade, grade)
    assert only(f"NLGI {said}") == f"NLGI {grade}"


@pytest.mark.parametrize("grade", [2, 3, 5, 7, 10, 15, 22, 32, 46, 68, 100, 150, 220])  # ISO 3448 viscosity grades, from memory
def test_oil_grades(grade):
    assert only(f"ISO VG {grade}") == f"ISO VG {grade}"


def test_bearings_fit_in_themselves():
    # ISO 15 boundary dimensions: the outside is larger than the bore, the width smaller than the outside
    for size in data("sizes")["bearings"]["sizes"]:
        bore, outside, width = map(Fraction, size.split("x"))
        assert bore < outside and width < outside
        assert only(f"{size}") == " x ".join(size.split("x")) + " mm"
