"""Spoken and heard numbers to written values."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.trade.numbers import find_numbers, same_unit


def values(text: str, kind: str) -> list[str]:
    return [n.value for n in find_numbers(text) if n.kind == kind]


@pytest.mark.parametrize("say, kind, value", [
    ("two and a half millimetre", "length", "2.5 mm"),
    ("a 2.5 mil hex key", "length", "2.5 mm"),
    ("a 1.5mm key", "length", "1.5 mm"),
    ("point three of a millimetre", "length", "0.3 mm"),
    ("nought point one five millimetres", "length", "0.15 mm"),
    ("they're seven eighths", "length", "7/8 in"),
    ("an inch and a half across", "length", "1.5 in"),
    ("a couple of thou", "length", "0.002 in"),
    ("8mm x 14mm x 4mm", "length", "8 x 14 x 4 mm"),
    ("a 9 16ths socket", "length", "9/16 in"),
    ("it wants one and a half inches", "length", "1.5 in"),
    ("thirty eight thou", "length", "0.038 in"),
    ("half a thou", "length", "0.0005 in"),
    ("six thousandths of an inch", "length", "0.006 in"),
    ("five by nine by three millimetres", "length", "5 x 9 x 3 mm"),
    ("two hundred and ten yards of braid", "length", "210 yd"),
    ("eighteen and a half ounces", "weight", "18.5 oz"),
    ("a quarter ounce weight", "weight", "1/4 oz"),
    ("three hundred and forty five grams", "weight", "345 g"),
    ("fifteen pound mono", "weight", "15 lb"),
    ("six point four to one", "ratio", "6.4:1"),
    ("four and a quarter to one", "ratio", "4.25:1"),
    ("it's 7.1 to 1", "ratio", "7.1:1"),
    ("thirty-five inch pounds", "torque", "35 in-lb"),
    ("one point five newton metres", "torque", "1.5 Nm"),
    ("twelve volts", "electric", "12 V"),
    ("forty percent", "percent", "40%"),
    ("an eighth of a turn", "turn", "1/8 turn"),
    ("two full turns", "turn", "2 turns"),
    ("three drops", "drop", "3 drops"),
    ("eight thirty two screw", "thread", "8-32"),
    ("a 440", "thread", "4-40"),
    ("quarter twenty", "thread", "1/4-20"),
    ("five sixteenths dash twenty four", "thread", "5/16-24"),
    ("an M four", "thread", "M4"),
    ("M two point five by point four five", "thread", "M2.5 x 0.45"),
    ("a six B A nut", "thread", "6 BA"),
    ("NLGI double zero", "grade", "NLGI 00"),
    ("fifteen W fifty", "grade", "15W-50"),
    ("number two Phillips", "driver", "#2"),
    ("part number forty dash three oh nine", "part_number", "40-309"),
    ("40-309, if you need one", "part_number", "40-309"),
    ("part number 40-3.09", "part_number", "40-309"),
    ("the number on it is five dash twelve", "part_number", "5-12"),
    ("part number A two one seven", "part_number", "A217"),
    ("the C F twenty kit", "part_number", "CF-20"),
    ("one one oh dash double two six", "part_number", "110-226"),
    ("the front's number is G4-1-1-2", "part_number", "G4-112"),            # spelled digit by digit
    ("part number is TW dash 1 1 7 2", "part_number", "TW-1172"),
    ("part number 62 dash 1 1 8, four of them", "part_number", "62-118"),
    ("part number 18-1-4", "part_number", "18-1-4"),
    ("the pawl's K S seven dash three one one", "part_number", "KS7-311"),   # a spoken dash needs no announcing
    ("it's G4-206 on the sheet", "part_number", "G4-206"),
    ("TW dash 1 508, bag of three", "part_number", "TW-1508"),
    ("number nine E dash four one two", "part_number", "9E-412"),
    ("number four sixty dash twelve C.", "part_number", "460-12C"),
    ("part number 6900-RS", "part_number", "6900-RS"),
    ("the kit is W seven eight dash D, and", "part_number", "W78-D"),
    ("number seven dash forty four", "part_number", "7-44"),                  # not a number seven driver
    ("part number eleven stroke two two one", "part_number", "11/221"),
    ("the number is four four, dash, two", "part_number", "44-2"),
    ("number V B thirty one", "part_number", "VB-31"),
    ("330 seconds of an inch", "length", "3/32 in"),                          # as speech models write them
    ("and we have 180,000s.", "length", "0.180 in"),
    ("it's 68 ,000ths", "length", "0.068 in"),
    ("the long are five-eighths", "length", "5/8 in"),
    ("three-eighths by seven-eighths inch", "length", "3/8 x 7/8 in"),
    ("it's 3 and 7-8s inches", "length", "3 7/8 in"),
    ("that's 30-04-2", "part_number", "30-042"),
    ("one ninety grams", "weight", "190 g"),
    ("two oh five grams", "weight", "205 g"),
    ("four and a half inches across", "length", "4.5 in"),
    ("three and a quarter inches", "length", "3 1/4 in"),
    ("before nineteen eighty four", "year", "1984"),
    ("it cost me twelve pounds", "price", "£12"),
    ("twelve pounds at the strike", "weight", "12 lb"),
    ("forty bucks, new", "price", "$40"),
    ("they want £3.50 for one", "price", "£3.50"),
    ("since twenty fifteen", "year", "2015"),
])
def test_a_number_as_said(say, kind, value):
    assert values(say, kind) == [value]


@pytest.mark.parametrize("heard, kind, value", [
    ("part number six and dash two oh one", "part_number", "16-201"),   # "sixteen dash"
    ("the number's won four dash three", "part_number", "14-3"),         # "one"
    ("40-309.5 of a gram", "weight", "0.5 g"),                            # run together with the number before
    ("the shorter, 3, 8, and", "length", "3/8 in"),                       # "three eighths"
    ("3, 8, 24", "thread", "3/8-24"),                                     # "three eighths twenty four"
    ("4 .1 to 1", "ratio", "4.1:1"),                                       # the point cut off from its whole
    ("a six by 50 by five", "length", "6 x 15 x 5 mm"),                   # no bearing is 50 outside and 6 inside
])
def test_a_number_as_misheard(heard, kind, value):
    assert value in values(heard, kind)


@pytest.mark.parametrize("text", ["the twenty five hundred", "a Plover 4000", "all four of them", "six pins", "not one of those"])
def test_counts_and_models_are_no_sizes(text):
    assert {n.kind for n in find_numbers(text)} <= {"count"}


@pytest.mark.parametrize("say", ["a Morrane BX-3000 spinning reel", "three TW, dash it", "ISO-3448 oil", "M3-10 screws", "I 4-100", "an 8-12 dash of oil"])
def test_a_name_or_a_standard_is_no_part_number(say):
    assert not [v for v in values(say, "part_number") if v[0].isalpha()]


def test_a_range_is_no_part_number():
    assert values("5-10 minutes", "part_number") == []


def test_an_elliptic_number_takes_the_unit_before():
    said, bare = find_numbers("thirty one thou and new was 45")
    assert same_unit(said, bare).value == "0.045 in"


@given(st.integers(10, 999), st.integers(10, 999))
def test_a_part_number_with_its_dash_reads_back(a, b):
    assert values(f"part number {a}-{b}", "part_number") == [f"{a}-{b}"]


@given(st.text(max_size=80))
def test_spans_are_in_order_and_inside_the_text(text):
    at = 0
    for n in find_numbers(text):
        assert at <= n.start < n.end <= len(text)
        at = n.end


@given(st.lists(st.sampled_from("one two twenty oh dash point half and a by to 7 16ths , . - / M V K thou inch quarter number part x 5.2".split()), max_size=12))
def test_any_jumble_of_number_words_is_read_without_failing(words):
    find_numbers(" ".join(words))
