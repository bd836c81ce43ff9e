"""Invented makers and models, as titles write them and as hosts say them."""

import pytest

from pipeline.reading import _english
from pipeline.reading.reels import find_reels, model_of_title, spoken_model
from pipeline.reading.talk import Talk
from pipeline.record import Sentence
from pipeline.trade import load_trade


def reels(title: str, *said: str) -> dict[str, str]:
    sentences = [Sentence(id=f"s{n}", start=n, end=n + 1, text=text, heard=text) for n, text in enumerate(said)]
    return {r.model: r.role for r in find_reels(Talk.of(sentences, _english(), load_trade(), title))}


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
