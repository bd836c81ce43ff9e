"""What cuts in the picture do to chapters: they settle what the talk leaves open, and nothing else."""

import numpy as np
import pytest
from tests.arranging.test_chapters import TRADE, talk

from pipeline.arranging.chapters import find_chapters
from pipeline.arranging.evidence import weigh_up
from pipeline.arranging.picture import AFTER_SILENCE, CUT, openings
from pipeline.arranging.segments import believe, load_weights
from pipeline.record import Sentence


def starts(sentences, findings, cuts=()) -> list[float]:
    return [c.start for c in find_chapters(sentences, findings, TRADE, cuts=list(cuts))]


def likely(sentences, findings) -> np.ndarray:
    """How likely a chapter begins at each sentence, by the talk alone."""
    evidence = weigh_up(sentences, findings, TRADE)
    return believe(evidence.talk, load_weights(evidence.opening, evidence.says), 10.0).begins.sum(1)


def test_without_cuts_nothing_changes():
    sentences, findings, _ = talk()
    assert find_chapters(sentences, findings, TRADE, cuts=[]) == find_chapters(sentences, findings, TRADE)


def test_a_film_cut_every_few_seconds_gets_the_chapters_of_its_talk():
    sentences, findings, _ = talk()
    often = np.arange(3.0, sentences[-1].end, 5.0)
    assert find_chapters(sentences, findings, TRADE, cuts=list(often)) == find_chapters(sentences, findings, TRADE)


def test_a_lone_cut_settles_an_opening_that_the_talk_leaves_open():
    sentences, findings, phases = talk()
    i = next(i for i, s in enumerate(sentences) if s.start == phases["closing"])
    for sight in findings.sights[i:]:  # the reader hardly makes out what the end is
        sight.phases, sight.opens = {phase: (chance + 1 / len(sight.phases)) / 2 for phase, chance in sight.phases.items()}, 0.02
    before, doubt = starts(sentences, findings), likely(sentences, findings)
    assert sentences[i].start not in before and 0.1 < doubt[i] < 0.5
    for cut in (sentences[i].start, sentences[i].start + 1.2, sentences[i - 1].end + 0.2):
        after = starts(sentences, findings, [cut])
        assert sentences[i].start in after and len(after) <= len(before) + 1


def test_a_cut_makes_no_opening_of_what_is_none():
    sentences, findings, _ = talk()
    before, doubt = starts(sentences, findings), likely(sentences, findings)
    i = int(np.argmin(doubt[1:])) + 1
    assert doubt[i] < 0.02 and starts(sentences, findings, [sentences[i].start]) == before


def test_cuts_and_confidence():
    sentences, findings, _ = talk()
    chapters = find_chapters(sentences, findings, TRADE)[1:]
    surer = {c.start: c.confidence for c in find_chapters(sentences, findings, TRADE, cuts=[c.start for c in chapters if c.confidence < 0.9][:1])}
    doubted = next(c for c in chapters if c.confidence < 0.9)
    assert surer[doubted.start] > doubted.confidence


def line(start: float, end: float) -> Sentence:
    return Sentence(id=f"s{start}", start=start, end=end, text="x", heard="x")


@pytest.mark.parametrize("cut, weights", [
    (10.2, [0, CUT, 0, 0]),              # between two sentences: the one that follows
    (12.0, [0, CUT, 0, 0]),              # the voice was first
    (27.0, [0, 0, CUT, 0]),              # the picture was first
    (20.0, [0, 0, 0, 0]),                # amid a sentence: another look at the same thing
    (45.0, [0, 0, 0, AFTER_SILENCE]),    # a stretch of handwork that was cut short opens what is said after it
    (300.0, [0, 0, 0, 0]), (-5.0, [0, 0, 0, 0])])
def test_which_sentence_a_cut_opens(cut, weights):
    said = [line(0, 10), line(10.5, 29), line(29.2, 40), line(70, 80)]
    assert openings([cut], said).tolist() == weights


def test_the_more_cuts_around_the_less_each_says():
    said = [line(t, t + 9) for t in range(0, 400, 10)]
    alone, two, five = (openings([200.0 + 10 * i for i in range(n)], said).max() for n in (1, 2, 5))
    assert alone == CUT and 0 < two < alone and five == 0
