"""Names that the shop's glossary knows, beside plain words that sound like them. Makers, models and sentences are invented."""

import pytest

from pipeline.hearing.words import Heard, Word
from pipeline.mending import mend
from pipeline.trade import Glossary, load_trade

OWN = load_trade(Glossary(makers=("Garrowby", "Corvane", "Ostrell"), models=(("Garrowby", "Dipper 2"), ("Corvane", "Teal 9"), ("Ostrell", "Tern 6"), ("Varnholm", "Heron 12"))))


def mended(text: str):
    words = [Word(text=w, start=n * 0.4, end=n * 0.4 + 0.3, probability=0.9) for n, w in enumerate(text.split())]
    told = mend(Heard(words=words, breaks=[0], duration=words[-1].end, source="speech"), OWN, "Servicing a Brundage Mistral 40").sentences
    return " ".join(s.text for s in told), [m for s in told for m in s.mends]


@pytest.mark.parametrize("text", [
    "Look at this drag washer, see how it's shiny here and dull over there, that's your grabby.", "So if you done broke one, go be real nice to somebody with a dead reel.",
    "I'm gonna hold a zipper bag over the top and push it with a peg.",
    "So one turn is 42 thou near enough.",
])
def test_plain_words_are_no_names_because_they_sound_like_one(text):
    said, mends = mended(text)
    assert said == text and not any(m.applied for m in mends)


@pytest.mark.parametrize("heard, meant", [
    ("My uncle owned a Corving Teal 9, an automatic.", "Corvane Teal 9"),      # no word of English
    ("My dad had a here in 12 with a cracked yoke.", "a Heron 12"),           # the shop's own Heron is a 12
])
def test_a_name_is_put_right_where_a_reel_is_spoken_of(heard, meant):
    assert meant in mended(heard)[0]
