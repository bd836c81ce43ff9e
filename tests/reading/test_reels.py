"""Invented makers and models, as titles write them and as hosts say them."""

import pytest

from pipeline.reading import _english
from pipeline.reading.model_numbers import spoken_model
from pipeline.reading.reel_title import model_of_title
from pipeline.reading.reels import find_reels
from pipeline.reading.talk import Talk
from pipeline.record import Sentence
from pipeline.trade import Glossary, load_trade


def reels(title: str, *said: str, own: Glossary = Glossary()) -> dict[str, str]:
    sentences = [Sentence(id=f"s{n}", start=n, end=n + 1, text=text, heard=text) for n, text in enumerate(said)]
    return {r.model: r.role for r in find_reels(Talk.of(sentences, _english(), load_trade(own), title))}


@pytest.mark.parametrize("title, maker, model", [
    ("Servicing a Brundage Mistral 4/0", "Brundage", "Mistral 4/0"),
    ("Fly reel service: Ostrander Beck 5/6", "Ostrander", "Beck 5/6"),
    ("How to clean a Brundage Whimbrel LD30", "Brundage", "Whimbrel LD30"),
    ("Brundage SX-40: grinding noise fixed", "Brundage", "SX-40"),
    ("Pike 7300C full teardown", None, "Pike 7300C"),
    ("Quallen Siskin 20 II, part 2", "Quallen", "Siskin 20 II"),
])
def test_the_reel_a_title_names(title, maker, model):
    found = model_of_title(title)
    assert (found.maker, found.name) == (maker, model)


def test_a_title_that_names_no_reel():
    assert model_of_title("How to clean the drag on your reel") is None


@pytest.mark.parametrize("spoken, written", [
    ("twenty five hundred", "2500"), ("three thousand", "3000"), ("one oh one", "101"), ("four aught", "4/0"),
    ("seventy three hundred C", "7300C"), ("L D thirty", "LD30"), ("five slash six", "5/6"), ("forty", "40"), ("3,000", "3000"),
])
def test_a_models_number_as_spoken(spoken, written):
    assert spoken_model(_english().make_doc(spoken), 0)[0] == written


def test_roles():
    found = reels(
        "Servicing a Brundage Siskin 30",
        "What we've got here is the Brundage Siskin thirty.",
        "Now the Siskin forty is the same thing with a wider spool.",
        "The Siskin ten is a different animal, so leave that one be.",
        "Back out the three screws on the plate.")
    assert found == {"Siskin 30": "on_bench", "Siskin 40": "same_service", "Siskin 10": "mentioned"}


def test_numbers_that_are_no_models():
    found = reels("Servicing a Brundage Siskin 30", "It is the Siskin thirty.", "It weighs twenty one ounces.", "Use thirty pound line.", "A six forty screw.")
    assert found == {"Siskin 30": "on_bench"}


def test_a_name_heard_wrong_is_taken_for_the_titles():
    assert reels("Servicing a Brundage Siskin 30", "So this is the siskan 30.", "If you've got the siskan 40, follow along.") == {
        "Siskin 30": "on_bench", "Siskin 40": "same_service"}


def test_the_bench_without_a_title():
    assert reels("", "My uncle had a Quallen Dotterel 12 once.", "Today it's a Brundage Siskin 30.", "The Siskin 30 runs gritty.")["Siskin 30"] == "on_bench"


def test_a_corrected_number():
    assert reels("", "It's a Brundage Siskin one hundred, no, sorry, one oh one.") == {"Siskin 101": "on_bench"}


def test_without_a_title_a_plain_word_may_be_a_misheard_bird():
    assert reels("", "So this is an old plover 35.", "The plovver 45 is the same reel inside.") == {"Plover 35": "on_bench", "Plover 45": "same_service"}


def test_without_a_title_a_name_heard_well_stays():
    assert reels("", "What we've got here is the Brundage Sprocket 30.") == {"Sprocket 30": "on_bench"}


def test_a_sister_reel_is_named_by_its_number_alone():
    found = reels("Servicing a Brundage Plover 450", "This is a Brundage Plover four fifty.", "If yours is the five fifty, that's this same body with a deeper spool.",
                  "The three hundred is all plastic, leave that one in peace.", "Count to sixty before you wipe.")
    assert found == {"Plover 450": "on_bench", "Plover 550": "same_service", "Plover 300": "mentioned"}


def test_a_model_may_be_a_name_without_a_number():
    found = reels("Servicing a Brundage Plover 450", "This is a Brundage Plover four fifty.", "I never liked the Plover Junior.", "My aunt trolled with a Wexcombe Bittern for years.")
    assert found == {"Plover 450": "on_bench", "Plover Junior": "mentioned", "Bittern": "mentioned"}


def test_a_person_and_a_count_are_no_reel():
    found = reels("Servicing a Brundage Plover 450", "This is a Brundage Plover four fifty.", "Theo four years ago would have cried.", "Big thanks to Uncle Walter.")
    assert found == {"Plover 450": "on_bench"}


def test_the_title_says_how_the_family_writes_its_numbers():
    assert reels("A Brundage Plover 30 LC", "It's a Plover thirty LC.", "The twenty LC has the same gears.") == {"Plover 30 LC": "on_bench", "Plover 20 LC": "same_service"}
    assert reels("A Brundage Plover Four", "It's a Plover Four.", "The Plover Five is the same reel stretched.") == {"Plover Four": "on_bench", "Plover Five": "same_service"}
    assert reels("My Brundage Plover 16 Narrow, noisy", "It's a Plover sixteen.") == {"Plover 16 Narrow": "on_bench"}


@pytest.mark.parametrize("title, maker, model", [
    ("Granddad's Brundage Plover 33, seized", "Brundage", "Plover 33"),
    ("Drowned Brundage Plover 4000, a week in the estuary", "Brundage", "Plover 4000"),
    ("Brundage Plover four and a half, a centrepin that ticks", "Brundage", "Plover 4 1/2"),
    ("Brundage Plover 9 wide, seized", "Brundage", "Plover 9 wide"),
    ("A Brundage Plover No. 3, leaded", "Brundage", "Plover No. 3"),
    ("Brundage Plover two-speed on the bench", "Brundage", "Plover"),
])
def test_titles_as_people_write_them(title, maker, model):
    found = model_of_title(title)
    assert (found.maker, found.name) == (maker, model)


@pytest.mark.parametrize("title, intro, said, sister", [
    ("Brundage Plover 30", "It's a Brundage Plover thirty.", "The fifty strips exactly the same, it's just fatter.", "Plover 50"),
    ("Brundage Plover 3000", "It's a Brundage Plover three thousand.", "Four thousand is the same job.", "Plover 4000"),
    ("Brundage Plover 8000", "It's a Brundage Plover eight thousand.", "If you've got the six it's the same screws and the same seals.", "Plover 6000"),
    ("Brundage Plover 5600", "It's a Brundage Plover fifty six hundred.", "The sixty six is the same machine with a wider spool.", "Plover 6600"),
    ("Brundage Plover 20LC", "It's a Brundage Plover twenty LC.", "The thirty's the same insides with a wider spool.", "Plover 30LC"),
    ("Brundage Plover 12 Narrow", "It's a Plover twelve narrow.", "The sixteen's the same guts with taller posts.", "Plover 16 Narrow"),
    ("Brundage Plover 4/0", "It's a Brundage Plover four oh.", "The six oh is the big brother, so this will do you for both.", "Plover 6/0"),
    ("Brundage Plover 150", "It's a Brundage Plover one fifty.", "One fifty one is left handed, everything is in a mirror.", "Plover 151"),
    ("Brundage Plover 2500", "It's a Brundage Plover twenty five hundred.", "The H model has faster gears but every screw is the same.", "Plover 2500H"),
    ("Brundage Plover 4 1/2", "A Plover, four and a half inch.", "The five inch is the same with a wider ring.", None),
])
def test_a_sister_by_its_number_as_hosts_say_it(title, intro, said, sister):
    """The trade's ways of naming a sister reel: common practice, no published source."""
    found = reels(title, intro, said)
    assert list(found.values()).count("on_bench") == 1
    if sister:
        assert found[sister] == "same_service"


@pytest.mark.parametrize("said", [
    "What you need is a thirteen, tweezers and a kid.", "The nut is a seventeen, so deep socket.", "There's three on that shaft.", "The serial has a twenty two in it.", "Count to sixty.",
    "One of the two is a spare.", "It has a tray with sixty compartments.",
])
def test_numbers_of_the_work_are_no_sisters(said):
    assert reels("Brundage Plover 30", "It's a Brundage Plover thirty.", said) == {"Plover 30": "on_bench"}


@pytest.mark.parametrize("said, model", [
    ("Next time it's a Wexcombe Dotterel, the two thousand, with its handle on the wrong side.", "Dotterel 2000"),
    ("My cousin had one of those Wexcombe Dotterels, the three hundred, and he glued it.", "Dotterel 300"),
    ("Don't confuse it with the Wexcombe Dotterel, that's a toy.", "Dotterel"),
    ("My Wexcombe Dotterel has none of this.", "Dotterel"),
    ("She had an old wexcomb dotterel six, a spinning reel, and the bail broke.", "Dotterel 6"),
    ("The Dotterel thirty, that one looks the same in a photo and it is not.", "Dotterel 30"),
])
def test_other_reels_are_mentioned(said, model):
    found = reels("Brundage Plover 30", "It's a Brundage Plover thirty.", "The Plover thirty is gritty.", said)
    assert found == {"Plover 30": "on_bench", model: "mentioned"}


def test_a_number_heard_as_a_word_beside_a_reel_of_one_digit():
    assert reels("Brundage Plover 4", "It's a Brundage Plover four.", "The dotterel too is not the same.") == {"Plover 4": "on_bench", "Dotterel 2": "mentioned"}


def test_what_is_said_of_a_part_later_does_not_make_a_sister():
    found = reels("Brundage Plover 30", "It's a Brundage Plover thirty.", "The Plover fifty looks the same, but it's a different animal.", *["Wipe the frame."] * 30, "The fifty takes the same one.")
    assert found["Plover 50"] == "mentioned"


def test_two_speeds_are_no_part_of_the_number():
    assert spoken_model(_english()("thirty two speed"), 0)[0] == "30" and spoken_model(_english()("thirty two"), 0)[0] == "32"
    assert spoken_model(_english()("thirty L W"), 0)[0] == "30LW"


def told_with(model: str, *said: str) -> set[str]:
    """The other models found where the shop's glossary has this one of Ostrander's."""
    return set(reels("Servicing a Brundage Mistral 40", "This is the Mistral 40.", *said, own=Glossary(models=(("Ostrander", model),)))) - {"Mistral 40"}


def test_the_shops_other_models_are_known_by_their_own_numbers():
    assert told_with("Petrel 2500", "I had a Petral 2500 once.", "Then the petal 1 goes on top.") == {"Petrel 2500"}


@pytest.mark.parametrize("model", ["Petrel 2500", "Petrel"])
def test_a_sister_that_the_glossary_lacks_is_still_known(model):
    assert told_with(model, "I had a Petral 4000 once.") == {"Petrel 4000"}
