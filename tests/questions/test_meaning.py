"""Nearness in meaning, by invented sentences."""

import sys

import pytest

from pipeline.errors import BenchError
from pipeline.questions.meaning import covers, meaning


def test_other_words_for_the_same_are_nearer_than_another_matter():
    asked, again, other = meaning("where can I buy a replacement spring"), meaning("anybody selling new springs"), meaning("how heavy is the oil in there")
    assert asked.vector @ again.vector > asked.vector @ other.vector + 0.2
    assert covers(asked, again) > covers(asked, other)


def test_a_text_covers_itself_and_nothing_covers_no_text():
    text, none = meaning("The drag knob turns by hand."), meaning("?!")
    assert covers(text, text) == pytest.approx(1, abs=1e-5) and text.vector @ text.vector == pytest.approx(1, abs=1e-5)
    assert covers(text, none) == covers(none, text) == 0 and not none.vector.any()


def test_other_vectors_than_those_measured_with_are_refused(monkeypatch):
    module = sys.modules["pipeline.questions.meaning"]
    monkeypatch.setattr(module, "_FILES", {name: "0" * 64 for name in module._FILES})
    with pytest.raises(BenchError, match="not those"):
        module._vectors.__wrapped__()
