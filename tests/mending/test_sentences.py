"""Where sentences end. The talks are invented; that hosts seldom say more than some forty words in one breath is common practice, no published source."""

import re
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from pipeline.hearing.words import Heard, Word
from pipeline.mending.sentences import LONGEST, sentence_spans

TALK = """Okay so this is a little centrepin and it has not turned in years. The drum comes off first. There's a screw in the middle and I hold the drum while I turn it.
Now the check pawl lifts out, with its spring behind it. I put those in the tray so they don't walk off. The bearings go in the solvent and I swish them around. While they dry I wipe the spindle.
Look at that, there's old grease on the rag. So a drop of oil on each bearing, no more. Then the pawl goes back in, flat side down, and the spring after it. You want to hear it click.
And the drum goes on. Snug the screw down, not too tight. Give it a spin. That's how it should sound, and that's us done for today."""


def heard(text: str, pauses: bool = False) -> Heard:
    """A word every 0.4 s; with pauses, each sentence of TALK begins 0.7 s late."""
    words, at = [], 0.0
    for word in text.split():
        words.append(Word(text=word, start=round(at, 2), end=round(at + 0.38, 2)))
        at += 0.4
    if pauses:
        stops, late = [w[-1] in ".?!" for w in TALK.split()], 0.0
        for word, before in zip(words, [False, *stops]):
            late += 0.7 * before
            word.start, word.end = word.start + late, word.end + late
    return Heard(words=words, breaks=[0], duration=words[-1].end, source="captions")


def ends(talk: Heard) -> set[int]:
    return {last for _, last in sentence_spans(talk)}


TRUE = ends(heard(TALK))
COMMAS, NONE = re.sub(r"[.?!]", ",", TALK).lower(), re.sub(r"[.,?!]", "", TALK).lower()


def test_a_talk_with_stops_is_cut_at_its_stops():
    assert TRUE == {n for n, w in enumerate(TALK.split(), 1) if w[-1] in ".?!"}


def test_where_commas_stand_for_stops_most_ends_are_found_again():
    found = ends(heard(COMMAS))
    assert len(found & TRUE) / len(TRUE) > 0.5 and len(found & TRUE) / len(found) > 0.6


def test_without_any_marks_pauses_tell_most_ends():
    found = ends(heard(NONE, pauses=True))
    assert len(found & TRUE) / len(TRUE) > 0.7 and len(found & TRUE) / len(found) > 0.7


def test_no_sentence_is_longer_than_the_reader_can_see():
    assert max(last - first for first, last in sentence_spans(heard(NONE))) < LONGEST
    assert max(last - first for first, last in sentence_spans(heard("turn " * 400))) < 2 * LONGEST


@given(st.lists(st.sampled_from(["the", "nut", "off,", "goes.", "Now", "so", "it", "and"]), min_size=1, max_size=300), st.lists(st.integers(0, 20), max_size=300))
def test_every_word_is_in_one_sentence_in_its_order(said, waits):
    words, at = [], 0.0
    for n, word in enumerate(said):
        at += 0.1 * (waits[n] if n < len(waits) else 0)
        words.append(Word(text=word, start=at, end=at + 0.3))
        at += 0.3
    spans = sentence_spans(Heard(words=words, breaks=[0], duration=at, source="speech"))
    assert spans[0][0] == 0 and spans[-1][1] == len(words)
    assert all(a[1] == b[0] for a, b in pairwise(spans)) and all(a < b for a, b in spans)
