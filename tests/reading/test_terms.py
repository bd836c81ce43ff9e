"""Invented sentences over every kind of reel: what is named, and which nut "the nut" is."""

import pytest

from pipeline.reading import _english
from pipeline.reading.talk import Talk
from pipeline.reading.terms import find_mentions
from pipeline.record import Sentence
from pipeline.trade import load_trade


def names(*said: str, group: str | None = None, title: str = "") -> list[str]:
    """The names found in the last sentence, in order."""
    sentences = [Sentence(id=f"s{n}", start=n, end=n + 1, text=text, heard=text) for n, text in enumerate(said)]
    found = find_mentions(Talk.of(sentences, _english(), load_trade(), title))
    return [m.name for m in found if m.sentence == sentences[-1].id and group in (None, m.group)]


@pytest.mark.parametrize("wording", ["anti-reverse dog", "anti reverse dog", "antireverse dog", "anti-reverse dogs"])
def test_every_spelling(wording):
    assert names(f"Lift the {wording} off its post.", group="part")[0] == "anti-reverse dog"


@pytest.mark.parametrize("sentence, expected", [
    ("The preset knob unscrews and the pressure plate comes off.", ["preset knob", "pressure plate"]),
    ("Wipe the cork disc, then look at the spool release latch.", ["cork drag disc", "spool release latch"]),
    ("Pull the bail wire, the line roller and the rotor.", ["bail wire", "line roller", "rotor"]),
    ("The pickup pin sits in the spinner head.", ["pickup pin", "pickup pin"]),
    ("The circuit board sits over the planetary gears.", ["circuit board", "planetary gear"]),
    ("Slide the worm shaft out and catch the level wind pawl.", ["worm shaft", "level wind pawl"]),
])
def test_parts_of_every_kind_of_reel(sentence, expected):
    assert names(sentence, group="part") == expected


@pytest.mark.parametrize("sentence, tool", [
    ("Grab a number one Phillips.", "#1 Phillips screwdriver"),
    ("Seven sixteenths wrench on that.", "7/16 wrench"),
    ("I use a 12 mil spanner.", "12 mm wrench"),
    ("A two and a half millimetre hex key fits.", "2.5 mm hex key"),
    ("Take a Phillips number two to it.", "#2 Phillips screwdriver"),
    ("Two screws, Phillips zero, both out.", "#0 Phillips screwdriver"),
    ("The screw is a zero Phillips.", "#0 Phillips screwdriver"),
    ("Phillips one on the cover.", "#1 Phillips screwdriver"),
    ("The two and a half driver fits.", "2.5 mm screwdriver"),
    ("A one point five hexagon key in each.", "1.5 mm hex key"),
    ("That's a two mil hex.", "2 mm hex key"),
])
def test_tools_by_their_size(sentence, tool):
    assert names(sentence, group="tool") == [tool]


def test_a_driver_told_by_a_number_alone_is_for_cross_recesses():
    """Point sizes of cross-recess screwdrivers go by number: ISO 8764-1 (from memory)."""
    assert names("Number one driver, and out they come.", group="tool") == ["#1 Phillips screwdriver"]


@pytest.mark.parametrize("sentence, tool", [
    ("Ten mil on the nut, and it's an ordinary thread.", "10 mm wrench"),
    ("Rotor nut, fourteen millimetre, and off she spins.", "14 mm wrench"),
    ("The handle nut's a half inch.", "1/2 wrench"),
    ("There's a nut in the middle, twelve mil, and it's a lefty.", "12 mm wrench"),
    ("Two side cover screws, number zero, and out they come.", "#0 Phillips screwdriver"),
])
def test_a_size_alone_is_a_tool_beside_what_it_turns(sentence, tool):
    assert names(sentence, group="tool") == [tool]


@pytest.mark.parametrize("sentence", [
    "The nut is eight mil thick.", "Three screws, all ten mil long.", "The shaft is ten mil, and it's true.", "The ten millimetre nut goes back on.", "Bearing number one, and then the screw.",
])
def test_a_size_of_a_piece_is_no_tool(sentence):
    assert names(sentence, group="tool") == []


def test_a_size_alone_is_the_tool_of_that_size_that_the_host_names():
    assert names("I've got a ten millimetre socket here.", "Ten mil on the nut.", group="tool") == ["10 mm socket"]


@pytest.mark.parametrize("sentence, tool", [
    ("The detent ball comes up with a magnet.", "magnet tool"), ("Roll the shaft on the glass.", "plate glass"), ("Look at the tip under the glass.", "magnifier"),
    ("Rinse the pinion in a glass of its own.", "shot glass"), ("One drop off the end of a needle.", "needle tool"), ("Push it through with a little stick.", "chopstick"),
    ("Lay a straightedge across it.", "straightedge"),
])
def test_a_word_for_many_things_is_a_tool_by_what_stands_before_it(sentence, tool):
    assert tool in names(sentence, group="tool")


@pytest.mark.parametrize("sentence", ["The brake magnets come out.", "There are six magnets in the brake.", "It's glass smooth.", "Pull the needle bearing."])
def test_the_same_word_is_a_part_or_nothing_elsewhere(sentence):
    assert names(sentence, group="tool") == []


def test_paper_by_its_grit():
    assert names("A few rubs on six hundred paper.", group="supply") == ["600 grit sandpaper"]


@pytest.mark.parametrize("sentence", [
    "The dog is asleep in the corner.", "Line it up with the mark.", "He came in over the counter.", "I do this every spring.",
    "It weighs about a foot pound of nothing.", "Pick up the pace.", "There was a ring of rust, a ring of salt.", "Have a seat.",
])
def test_everyday_words_that_name_nothing(sentence):
    assert names(sentence) == []


def test_a_verb_names_no_supply():
    assert names("Oil the spool bearings.", group="supply") == []
    assert names("Put a drop of oil on the spool bearings.", group="supply") == ["oil"]


@pytest.mark.parametrize("said, expected", [
    (("Three screws hold the bridge down.", "Take the screws out."), "bridge screw"),
    (("Lift the rotor nut retainer.", "The rotor is next.", "And then the nut."), "rotor nut"),
    (("There is one screw through the bail arm.",), "bail screw"),
])
def test_which_one_is_meant(said, expected):
    assert expected in names(*said, title="A spinning reel serviced")


def test_words_in_no_list_make_a_name_of_their_own():
    assert names("The jack shaft collar is brass.", group="part") == ["jack shaft collar"]


def test_what_is_only_likened_is_not_named():
    assert names("It sounds like a rusty bracket.") == []


def test_the_wrench_is_the_one_with_the_size():
    assert names("A ten mil wrench fits the handle nut.", "Same wrench for the other one.", group="tool") == ["10 mm wrench"]


def test_mentions_know_how_they_stand_to_the_bench():
    sentences = [Sentence(id="s1", start=0, end=1, text="Don't put grease in the roller clutch.", heard="")]
    found = find_mentions(Talk.of(sentences, _english(), load_trade(), ""))
    assert {(m.name, tuple(m.context)) for m in found} == {("grease", ("negated",)), ("roller clutch", ("negated",))}


def test_a_name_means_the_piece_that_this_kind_of_reel_has():
    assert names("This one is a baitcaster.", "Unscrew the tension knob.")[0] == "spool tension knob"
    assert names("This one is a spinning reel.", "Unscrew the tension knob.")[0] == "drag knob"


def test_rollers_are_those_of_the_clutch_and_one_roller_guides_the_line():
    assert names("Wash the roller clutch and its rollers.", title="A spinning reel serviced") == ["roller clutch", "clutch roller"]
    assert names("Oil goes in the roller.", title="A spinning reel serviced", group="part") == ["line roller"]


def test_how_a_cap_looks_makes_no_piece_of_its_own():
    assert "slotted cap" not in names("The pawl is next.", "Undo the slotted cap.")


def test_a_small_piece_without_a_name_goes_with_its_sort():
    assert names("Both spool bearings are dry.", "Lovely day.", "Wash.", "Bearings can soak now.")[-1] == "spool bearing"


def test_what_the_host_calls_it_is_one_of_its_names():
    sentences = [Sentence(id=f"s{n}", start=n, end=n + 1, text=text, heard="") for n, text in enumerate(("Three screws hold the bridge down.",))]
    [screw] = [m for m in find_mentions(Talk.of(sentences, _english(), load_trade(), "")) if m.name == "bridge screw"]
    assert "screw" in screw.names


@pytest.mark.parametrize("sentence, tools", [
    ("The spring goes in a jar lid so it can't roll.", ["lid"]),
    ("Number nought Phillips, and out it comes.", ["#0 Phillips screwdriver"]),
    ("Clean the corners with a rag round a lolly stick.", ["popsicle stick"]),
    ("Blow it through with a bike pump.", ["bicycle pump"]),
    ("Weigh it on the flour scales.", ["kitchen scale"]),
    ("It broke my nail.", []),
])
def test_things_of_the_house_are_tools_where_they_are_put_to_use(sentence, tools):
    assert names(sentence, group="tool") == tools


def test_drag_discs_by_their_stuff_alone():
    assert names("Wipe the carbons, and oil the leathers.", group="part") == ["carbon drag washer", "leather drag washer"]


def test_a_word_said_twice_where_a_comma_was_not_heard_makes_no_name():
    assert names("Lift the cover off, and the plate.", "Spring in, then the plate plate on.", group="part")[-2:] == ["plate", "plate"]


@pytest.mark.parametrize("sentence, expected", [
    ("No battery in this one, so it's older than that.", []),                    # no solder
    ("Kettle's boiled, and that thread's full of old muck.", []),                # no kettle in the hand, no sewing thread
    ("The bearing's dry and the jeweller's loupe shows why.", ["bearing", "magnifier"]),
])
def test_the_s_of_is_belongs_to_no_name(sentence, expected):
    assert names(sentence) == expected


@pytest.mark.parametrize("sentence, supply", [
    ("Four screws back in, and a dot of blue on each.", "threadlocker"),
    ("A bit of blue grease on the gear.", "marine grease"),
    ("The o-ring gets a smear of silicone.", "silicone grease"),
    ("Oil on the worm, down its whole length.", "oil"),
    ("Don't oil that.", None),
])
def test_supplies_by_their_colour_or_stuff_alone(sentence, supply):
    assert [s for s in names(sentence, group="supply")] == ([supply] if supply else [])
