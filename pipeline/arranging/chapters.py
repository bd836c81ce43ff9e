"""Where chapters begin, and each one's phase: the best cut of the whole episode, found together."""

import numpy as np

from ..reading.findings import Findings
from ..record import Chapter, Sentence
from ..trade import Trade
from .evidence import weigh_up
from .segments import NEAR, PHASES, believe, best_cut, load_weights
from .titles import name_chapters

LEAST_LENGTH = 10.0  # seconds: what video hosts take as a chapter


def find_chapters(sentences: list[Sentence], findings: Findings, trade: Trade) -> list[Chapter]:
    """Chapters in order, the first at 0.0. Empty without sentences."""
    if not sentences:
        return []
    evidence = weigh_up(sentences, findings, trade)
    talk = evidence.talk
    if talk.times[-1] < 2 * LEAST_LENGTH:  # no room for a second chapter
        chapters = [Chapter(start=0.0, title="", phase="introduction", sentences=[s.id for s in sentences], confidence=0.5)]
    else:
        belief = believe(talk, load_weights(evidence.opening, evidence.says), LEAST_LENGTH)
        starts = best_cut(talk, belief, LEAST_LENGTH)
        chapters = []
        for first, last in zip(starts, [*starts[1:], len(sentences)]):
            share = belief.holds[first:last].mean(0)
            near = (np.abs(talk.times[:-1] - talk.times[first]) <= NEAR) & (np.arange(len(sentences)) > 0)
            sure = 1.0 if first == 0 else min(1.0, belief.begins[near].sum())
            chapters.append(Chapter(
                start=float(talk.times[first]), title="", phase=PHASES[share.argmax()], sentences=[s.id for s in sentences[first:last]],
                confidence=round(float(min(1.0, max(0.0, sure * share.max()))), 2)))
    return name_chapters(chapters, sentences, findings, trade)
