"""The trained reader: what it gives are chances, the same each time, and none of them hangs on how much was read together."""

from pathlib import Path

import numpy as np
import onnx
from hypothesis import given, settings, strategies as st
from onnx import numpy_helper

from pipeline.reading import _english, read
from pipeline.reading.encoder import START, STOP, encode, encoder, side_by_side
from pipeline.reading.facts import find_facts
from pipeline.reading.offers import Offers
from pipeline.reading.reader import ACTIONS, KINDS, PHASES, read_talk
from pipeline.reading.ruled import ruled_steps, tell, tide_of
from pipeline.reading.signs import Signs
from pipeline.reading.slots import slots_of
from pipeline.reading.talk import Talk
from pipeline.reading.windows import WINDOW, Windows, cut, middle, share
from pipeline.record import Sentence
from pipeline.trade import load_trade

READER = Path(__file__).parents[2] / "pipeline" / "reading" / "reader.onnx"


def seen(*lines: str):
    sentences = [Sentence(id=f"s{n}", start=n * 5.0, end=n * 5.0 + 4, text=line, heard=line) for n, line in enumerate(lines)]
    talk = Talk.of(sentences, _english(), load_trade(), "")
    told = tell(talk)
    slots = slots_of(told, talk.docs)
    tide = tide_of(told, len(sentences))
    return Signs(talk, told, ruled_steps(talk, told, tide), find_facts(talk), [tide(n) for n in range(len(sentences))]), slots


def test_chances_are_chances_and_the_same_each_time():
    signs, slots = seen("Take the handle nut off.", "Then the handle.", "Wipe it with a rag.")
    one, two = read_talk(signs, slots), read_talk(signs, slots)
    assert one.actions.shape == (len(slots), len(ACTIONS)) and one.kinds.shape == (3, len(KINDS)) and one.phases.shape == (3, len(PHASES))
    assert np.allclose(one.actions.sum(1), 1, atol=1e-5) and np.allclose(one.phases.sum(1), 1, atol=1e-5)
    assert (one.kinds >= 0).all() and (one.kinds <= 1).all() and (one.opens >= 0).all() and (one.opens <= 1).all()
    assert np.array_equal(one.actions, two.actions) and one.meant == two.meant


def test_what_is_plainly_done_is_likelier_than_what_is_not():
    signs, slots = seen("Right, on with it.", "Unscrew the handle nut with a wrench and take it off.", "My nan likes her tea with the sugar in first.")
    reading = read_talk(signs, slots)
    nut = next(n for n, s in enumerate(slots) if s.unit is not None and s.unit.name == "handle nut")
    assert ACTIONS[reading.actions[nut].argmax()] == "remove"
    assert all(reading.actions[n, 0] > 0.5 for n, s in enumerate(slots) if signs.told[s.told].sentence == 2)


def test_findings_tell_what_was_seen_in_each_sentence():
    lines = ["Hello and welcome back to the bench.", "Unscrew the handle nut and take it off.", "Thanks for watching, see you next week."]
    sentences = [Sentence(id=f"s{n}", start=n * 5.0, end=n * 5.0 + 4, text=line, heard=line) for n, line in enumerate(lines)]
    sights = read(sentences, load_trade()).sights
    assert [s.sentence for s in sights] == [s.id for s in sentences]
    assert all(set(s.phases) == set(PHASES) and abs(sum(s.phases.values()) - 1) < 0.01 and 0 <= s.opens <= 1 for s in sights)


def test_no_two_weights_that_are_added_in_one_go_overflow_on_any_processor():
    """PMADDUBSW (Intel's and AMD's instruction manuals, from memory) adds two products of 8-bit numbers, one 0 to 255, in 16 bits with a sign, and cuts off what is beyond.

    Processors with AVX2 alone sum so; where it cut, most tests of reading failed. The file is read by the package onnx.
    """
    tables = [numpy_helper.to_array(t).astype(int) for t in onnx.load(READER).graph.initializer if t.name.endswith("_quantized")]
    assert len(tables) == 72
    for table in tables:
        assert np.abs(255 * (table[0::2] + table[1::2])).max() < 2**15


@settings(max_examples=15, deadline=None)
@given(st.lists(st.text(alphabet=st.characters(codec="utf-8", exclude_categories=("Cs",)), max_size=120), min_size=1, max_size=4))
def test_any_text_is_read_without_harm(lines):
    signs, slots = seen(*lines)
    reading = read_talk(signs, slots)
    assert np.isfinite(reading.actions).all() and len(reading.actions) == len(slots) and len(reading.opens) == len(lines)


def test_a_sentence_of_thousands_of_words_is_read_in_part():
    signs, slots = seen("spool off " * 3000, "Handle on.")
    assert np.isfinite(read_talk(signs, slots).actions).all()


@given(st.lists(st.integers(0, 90), min_size=1, max_size=120))
def test_every_sentence_is_shown_whole_and_counted_once(lengths):
    windows = cut(lengths)
    shown = [[w for w, (a, b) in enumerate(windows) if a <= i < b] for i in range(len(lengths))]
    assert all(shown) and all(a < b for a, b in windows)
    assert all(sum(lengths[a:b]) + b - a <= WINDOW or b == a + 1 for a, b in windows)
    assert all(abs(sum(share(windows, w, i, len(lengths)) for w in of) - 1) < 1e-9 for i, of in enumerate(shown))


def test_broken_up_talk_looks_as_far_back_as_whole_talk():
    """A speech model may put a full stop after every few words: how far back a thing lies goes by words, not by sentences."""
    whole, _ = seen("Here is the drag knob and under the drag knob is the spool.", "It spins off to the left, and mind the spring.")
    broken, _ = seen("Here is the drag knob.", "And under the drag knob.", "Is the spool.", "It spins off to the left.", "And mind the spring.")
    assert broken.talk.back(3, 0) == whole.talk.back(1, 0) > 0


def test_a_nickname_may_mean_a_part_and_is_offered_itself():
    signs, slots = seen("That's the drive gear.", "Scrub the teeth and set it down.")
    teeth = next(s for s in slots if s.unit is not None and s.unit.text == "teeth")
    meant = Offers(signs, [s for s in slots if s.is_named])
    offered = [meant.things[m].unit.text for m in meant.to(teeth)]
    assert teeth.points and "teeth" in offered and any("gear" in text for text in offered)


def test_what_is_read_hardly_depends_on_what_is_read_beside_it():
    """Whole numbers of 8 bits, scaled for the largest among all pieces: once they left half of what the weights say (benchmarks/teach/README.md)."""
    tokenizer = encoder()[1]
    rows = [[START, *tokenizer.encode(text, add_special_tokens=False).ids, STOP] for text in (
        "Six screws hold this plate on, and two of them are short.", "Back 'em all out with a number one Phillips.", "Numbers: 31-204, 18-330, 0.5 mm, 5.2:1!!!")]
    together = encode(rows)
    for row, vectors in zip(rows, together):
        alone, beside = encode([row])[0], vectors[:len(row)]
        assert np.linalg.norm(alone - beside) < 0.2 * np.linalg.norm(beside)


def test_many_batches_come_in_order_and_as_if_read_alone():
    tokenizer = encoder()[1]
    batches = [[[START, *tokenizer.encode(f"Screw number {n} of this plate" + " and its washer" * (n % 5), add_special_tokens=False).ids, STOP]] for n in range(23)]
    for lead in (1, 5, 60):
        assert all(np.array_equal(got, encode(rows)) for got, rows in zip(side_by_side(batches, lead), batches, strict=True))
    assert list(side_by_side([])) == []


def test_a_talk_read_ahead_is_read_as_otherwise():
    lines = [f"Take screw number {n} out and put it in the tray." for n in range(60)]
    signs, slots = seen(*lines)
    ahead, later = read_talk(signs, slots, Windows(lines)), read_talk(signs, slots)
    assert np.array_equal(ahead.actions, later.actions) and np.array_equal(ahead.phases, later.phases) and ahead.tool == later.tool


@given(st.lists(st.integers(0, 90), min_size=1, max_size=120))
def test_each_sentence_is_answered_where_most_around_it_is_shown(lengths):
    windows = Windows.__new__(Windows)
    windows.ids, windows.spans = [[0] * n for n in lengths], cut(lengths)
    assert windows.home == [max(range(len(windows.spans)), key=lambda w: middle(windows.spans[w], i, len(lengths))) for i in range(len(lengths))]
