import pytest

from pipeline.hearing.words import Heard, Word
from pipeline.mending.scene import look_over
from pipeline.mending.sentences import sentence_spans
from pipeline.mending.usage import Usage, usage
from pipeline.mending.vocabulary import vocabulary
from pipeline.trade import load_trade

TALK = "The nut comes off. Then the spool comes off, and the nut goes on. I eat a cake."


@pytest.fixture(scope="module")
def counted() -> Usage:
    words = [Word(text=w, start=i * 0.4, end=i * 0.4 + 0.3) for i, w in enumerate(TALK.split())]
    heard, said = Heard(words=words, breaks=[0], duration=len(words), source="captions"), vocabulary(load_trade(), "")
    return Usage.of(look_over(words, sentence_spans(heard), said))


def test_words_things_and_their_pairs_are_counted(counted):
    assert {k: counted.counts[k] for k in ("nut", "the nut", "comes off", "off |", "<part>", "=nut", "the <part>", "<part> goes", "off and")} == {
        "nut": 2, "the nut": 2, "comes off": 2, "off |": 2, "<part>": 3, "=nut": 2, "the <part>": 3, "<part> goes": 1, "off and": 0}
    assert counted.said == len(TALK.split()) + 4  # each of the four stretches ends once


def test_what_stands_together_is_tied_and_what_shuns_each_other_is_not(counted):
    assert counted.tie("the", "nut") > 0 > counted.tie("the", "the")
    assert counted.tie("walrus", "nut") == 0 == Usage().tie("the", "nut")


def test_counts_add_up_and_can_be_taken_back(counted):
    assert ((counted + counted) - counted).counts == counted.counts
    seldom = (counted + counted).seldom_left_out(4)
    assert seldom.counts["the nut"] == 4 and not seldom.counts["a cake"] and seldom.counts["cake"] == 2


def test_counts_are_kept_as_written(counted, tmp_path, monkeypatch):
    counted.write(tmp_path / "usage.gz")
    monkeypatch.setattr("pipeline.mending.usage.FILE", tmp_path / "usage.gz")
    assert usage.__wrapped__().counts == counted.counts


def test_the_program_knows_how_the_bench_talks():
    known = usage()
    assert known.tie("<part>", "off") > 0.3 > known.tie("net", "off")
    assert known.tie("the", "<part>") > 0.3
