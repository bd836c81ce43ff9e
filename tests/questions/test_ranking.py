"""Moments as chances: what each sentence and none of them gets, whatever is asked."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.questions import answer
from pipeline.questions.comments import Comment
from pipeline.questions.meaning import Spread, covers, meaning
from pipeline.questions.ranking import DOUBTS, SIGNS, chances, signs
from pipeline.questions.seeking import APART, MOST, Seeker, Sought
from pipeline.questions.wording import Wording
from pipeline.reading.encoder import vectors
from pipeline.trade import data
from tests.questions.test_questions import EPISODE, TALK, TRADE

words = st.lists(st.sampled_from("bearing washer grease the spool 40 which way ün ? clutch, nut's 7x14x5 spring \U0001f3a3".split()), max_size=12).map(" ".join)


def seeker(sentences=EPISODE.sentences) -> Seeker:
    return Seeker(EPISODE.model_copy(update={"sentences": sentences}), Wording(TRADE, TALK))


def sought(text: str, held: Seeker) -> Sought:
    items = held.wording.items(text, fix=False)
    return Sought(text, items, held.wording.parts(items), held.wording.heads(items), (), {}, text)


def test_every_sign_has_its_weight():
    weights = data("asked")["answer"]
    assert set(weights["signs"]) == set(SIGNS) and set(weights["doubts"]) == set(DOUBTS)


@settings(max_examples=25, deadline=None)
@given(words, st.integers(1, len(TALK)))
def test_chances_are_shared_out_among_the_sentences_and_none(text, count):
    held = seeker(EPISODE.sentences[:count])
    each, any_ = chances(held, sought(text, held))
    assert each.shape == (count,) and (each >= 0).all() and 0 <= any_ <= 1 and abs(each.sum() - any_) < 1e-9
    rows, doubts = signs(held, sought(text, held))
    assert rows.shape == (count, len(SIGNS)) and doubts.shape == (len(DOUBTS),) and np.isfinite(rows).all() and np.isfinite(doubts).all()


@settings(max_examples=25, deadline=None)
@given(words)
def test_answers_are_few_apart_and_surest_first(text):
    [found] = answer([Comment(id="a", text=f"{text} which one is it?")], EPISODE, TRADE)
    sure = [a.confidence for a in found.answers]
    assert len(sure) <= MOST and sure == sorted(sure, reverse=True)
    assert all(a.start > b.end + APART or a.end < b.start - APART for n, a in enumerate(found.answers) for b in found.answers[:n])


@settings(max_examples=25, deadline=None)
@given(words, st.lists(words, min_size=1, max_size=6))
def test_many_texts_are_covered_as_each_alone(text, others):
    together = Spread(others).covering(meaning(text))
    assert np.allclose(together, [covers(meaning(text), meaning(o)) for o in others], atol=1e-5)


def test_the_encoder_hears_that_two_wordings_mean_the_same():
    nut, undo, lunch = vectors(["The handle nut has a reverse thread.", "Which way do I turn it to get the nut off the handle?", "I had an egg sandwich for lunch, by the way."])
    near = lambda a, b: float(a @ b / np.linalg.norm(a) / np.linalg.norm(b))  # noqa: E731
    assert near(nut, undo) > near(lunch, undo)


def test_a_comment_in_quite_other_words_finds_its_moment():
    """No word of the answer is asked for."""
    [found] = answer([Comment(id="a", text="lefty loosey or righty tighty for the thing that holds the crank on?")], EPISODE, TRADE)
    assert any(a.text in (TALK[11], TALK[12], TALK[2]) for a in found.answers)
