"""Facts out of invented bench talk, over every kind of reel."""

import pytest

from pipeline.reading import read
from pipeline.reading.statements import tidy
from pipeline.record import Sentence
from pipeline.trade import load_trade


def facts(*said: str):
    sentences = [Sentence(id=f"s{i}", start=20.0 * i, end=20.0 * i + 6, text=text, heard=text) for i, text in enumerate(said)]
    return read(sentences, load_trade()).facts


def kinds(*said: str) -> set[str]:
    return {f.kind for f in facts(*said)}


@pytest.mark.parametrize("kind, said", [
    ("obsolete", "You can't get that check pawl any more, they've been discontinued for years."),
    ("interchange", "That line guide is the same one as on the Plover 40, so a scrapped reel will do."),
    ("upgrade", "You could go to a ceramic bearing there, that's a nice upgrade."),
    ("dating", "The older ones had a brass foot, so this was made after 1987."),
    ("orientation", "The cam goes on with the stepped side facing the handle."),
    ("orientation", "Dished washer next, hollow side down."),
    ("fastener", "Five screws hold the rear housing, and the short one goes at the top."),
    ("fastener", "That's a left hand thread, so it comes off clockwise."),
    ("setting", "Wind the preset in until the lever just takes up, then back it off a quarter turn."),
    ("setting", "Nip the spool cap up finger tight."),
    ("caution", "Don't ever lever that cover off with a screwdriver, you'll crack the housing."),
    ("caution", "Keep a thumb over the spring, it wants to fly."),
    ("caution", "No grease on the clutch, please."),
    ("condition", "The check pawl is badly worn and there's salt all round the spindle."),
    ("condition", "And it's bone dry in there."),
    ("unsure", "I'm honestly not sure what this little washer does."),
    ("part_number", "The part number for that spring is forty four dash one oh seven."),
    ("measure", "That shim is point two five of a millimetre."),
    ("caution", "Never lay a centrepin on its spindle."),
    ("caution", "Use the right size screwdriver or you'll chew the slot."),
    ("condition", "There's hardly any wear on that ratchet."),
    ("condition", "The check pawl's rounded right off."),
    ("orientation", "Copper side to the bearing on that thrust washer."),
    ("orientation", "For left hand wind you turn the clicker dog over, pointing the other way."),
    ("setting", "It wants to drop under its own weight."),
    ("setting", "Eight pounds at strike, that's what I set it to."),
    ("fastener", "Three little grub screws round the rim."),
    ("interchange", "Everything here goes for the 30 as well."),
    ("upgrade", "Somebody makes a hybrid bearing that's better and drops straight in."),
    ("obsolete", "They don't do the cork any more."),
    ("dating", "They put the guard on from 1995 onwards."),
    ("unsure", "What that hole is for I've never found out."),
])
def test_a_fact_of_each_kind(kind, said):
    assert kind in kinds(said)


@pytest.mark.parametrize("said", [
    "Welcome back to the bench, everybody.",
    "Thanks to everyone who wrote in last week.",
    "I don't know about you but I could do with a cup of tea.",
    "Don't forget to subscribe.",
])
def test_small_talk_holds_no_fact(said):
    assert not facts(said)


def test_a_fact_has_its_value_moment_and_sentence():
    (fact,) = [f for f in facts("Well, here we are.", "Um, the part number is, forty dash three oh nine.") if f.kind == "part_number"]
    assert fact.value == "40-309"
    assert fact.sentences == ["s1"] and 20 <= fact.start < fact.end <= 26
    assert fact.text == "The part number is, forty dash three oh nine."


def test_a_part_number_without_its_dash_takes_the_shape_of_the_others():
    found = facts("Part number forty dash three oh nine.", "And the spring is part number 40117.")
    assert [f.value for f in found if f.kind == "part_number"] == ["40-309", "40-117"]


def test_a_bare_number_after_a_measure_has_its_unit():
    found = facts("That washer is thirty one thou.", "New was 45, so it's done.")
    assert [f.value for f in found if f.kind == "measure"] == ["0.031 in", "0.045 in"]


def test_a_statement_is_tidy():
    assert tidy("okay so, um, the flange faces down , you know,") == "The flange faces down."
