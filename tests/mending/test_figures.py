"""Numbers in figures: beside the text, with what was heard."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.hearing.words import Heard, Word
from pipeline.mending import Refusal, mend
from pipeline.mending.figures import figures, in_figures
from pipeline.trade import Glossary, load_trade

PIECES = ("number two Phillips .|Two and a half millimetre ,|part number thirty one dash two oh four|six thirty-two screw|five point two to one|ten W forty|NLGI two|"
          "half a thou|the yoke|cost me twelve pounds|twelve pounds of drag|in nineteen eighty four ,|a 10mm spanner .|the Dunnock thirty|62-118").split("|")


def words(text: str) -> list[Word]:
    return [Word(text=w, start=i * 0.4, end=i * 0.4 + 0.3) for i, w in enumerate(text.split())]


def written(text: str, *names: str) -> str:
    return " ".join(w.text for w in in_figures(words(text), figures(text, names)))


@pytest.mark.parametrize("said, meant", [
    ("A number two Phillips.", "A #2 Phillips."),
    ("Take a two and a half millimetre key.", "Take a 2.5 mm key."),
    ("It's part number thirty one dash two oh four, I think.", "It's part number 31-204, I think."),
    ("One six thirty-two screw.", "One #6-32 screw."),
    ("It says five point two to one.", "It says 5.2:1."),
    ("Ten W forty in the gearbox.", "10W-40 in the gearbox."),
    ("A grease of NLGI two.", "A grease of NLGI 2."),
    ("Half a thou off.", "0.0005 in off."),
    ("A seven sixteenths wrench.", "A 7/16 wrench."),
    ("Made before nineteen eighty four, then.", "Made before 1984, then."),
    ("It cost me twelve pounds, and it pulls twelve pounds.", "It cost me £12, and it pulls 12 lb."),
    ("Four of them, and three washers.", "Four of them, and three washers."),
])
def test_a_number_is_written_as_the_trade_writes_it(said, meant):
    assert written(said) == meant


def test_years_prices_models_and_part_numbers_are_told_apart_by_what_stands_around():
    said = "The Dunnock two thousand, part number two dash two thousand, came out in two thousand nine and cost two thousand bucks."
    assert written(said, "Ostmar Dunnock") == "The Dunnock 2000, part number 2-2000, came out in 2009 and cost $2000."


def test_the_text_keeps_what_was_heard_and_the_record_says_what_is_written():
    out = mend(Heard(words=words("It wants a number two Phillips."), breaks=[0], duration=9, source="captions"), load_trade())
    (sentence,) = out.sentences
    assert sentence.text == sentence.heard == "It wants a number two Phillips."
    assert [(m.from_, m.to) for m in sentence.numbers] == [("number two", "#2")]


@pytest.mark.parametrize("how", [{"refused": [Refusal("number two")]}, {"refused": [Refusal("#2", at=1)]}])
def test_a_number_in_figures_can_be_refused(how):
    heard = Heard(words=words("It wants a number two Phillips."), breaks=[0], duration=9, source="captions")
    assert not mend(heard, load_trade(), **how).sentences[0].numbers
    assert not mend(heard, load_trade(Glossary(leave=("number two",)))).sentences[0].numbers


talk = st.lists(st.sampled_from(PIECES), min_size=1, max_size=12).map(" and ".join)


@given(talk)
def test_every_figure_is_on_record_and_writing_again_changes_nothing(text):
    record, out = figures(text, ["Dunnock"]), written(text, "Dunnock")
    assert (out != " ".join(text.split())) == bool(record)
    assert all(m.from_ in text and m.from_ != m.to for m in record)
    assert written(out, "Dunnock") == out


@given(st.text(max_size=60))
def test_any_text_is_taken(text):
    for m in figures(text):
        assert m.from_ in text


@given(talk)
def test_times_stay_in_order_and_within_the_sentence(text):
    old = words(text)
    new = in_figures(old, figures(text))
    times = [t for w in new for t in (w.start, w.end)]
    assert times == sorted(times) and times[0] == old[0].start and times[-1] == pytest.approx(old[-1].end)
