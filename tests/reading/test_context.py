"""Sentences at an invented bench: which of them say what is done to this reel, now."""

import pytest

from pipeline.reading import _english
from pipeline.reading.context import mark_context


def contexts(*sentences: str) -> list[frozenset[str]]:
    docs = list(_english().pipe(sentences))
    mark_context(docs, _english())
    return [doc._.context for doc in docs]


def at(word: str, sentence: str) -> frozenset[str]:
    doc = _english()(sentence)
    mark_context([doc], _english())
    return doc._.context_at(next(t.i for t in doc if t.text == word))


@pytest.mark.parametrize("sentence, context", [
    ("Lift the cage off its two posts.", set()),
    ("Don't soak the cork in anything.", {"negated"}),
    ("If the quadrant is loose, that is a job for another day.", {"hypothetical"}),
    ("Last year I swapped the check spring.", {"past"}),
    ("Where does the thin shim go?", {"question"}),
    ("Don't forget to oil the spindle.", set()),
])
def test_a_sentence_alone(sentence, context):
    assert contexts(sentence) == [frozenset(context)]


def test_a_dont_ends_with_its_clause():
    sentence = "Never pry on the hood, then ease the pickup pin back."
    assert at("hood", sentence) == {"negated"}
    assert at("pin", sentence) == frozenset()


def test_a_no_that_takes_back_a_count_denies_nothing():
    assert at("shims", "There are two, no, sorry, three shims.") == frozenset()


def test_a_story_runs_on_until_the_host_comes_back():
    told = contexts("My uncle had an old drum with a bent spindle.", "He straightened it over his knee.", "Anyhow, the latch lifts off.")
    assert "past" in told[0] and "past" in told[1]
    assert told[2] == frozenset()
