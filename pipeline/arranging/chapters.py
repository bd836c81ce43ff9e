"""Where chapters begin, and each one's phase: the best cut of the whole episode, found together."""

from dataclasses import replace

import numpy as np

from ..reading.findings import Findings
from ..record import Chapter, Sentence
from ..trade import Trade
from .evidence import weigh_up
from .picture import openings
from .segments import NEAR, PHASES, believe, best_cut, load_weights
from .settings import ChapterSettings
from .titles import name_chapters


def find_chapters(sentences: list[Sentence], findings: Findings, trade: Trade, rules: ChapterSettings = ChapterSettings(),
                  cuts: list[float] = ()) -> list[Chapter]:
    """Chapters in order, the first at 0.0. Empty without sentences. `cuts` are those in the picture, in seconds."""
    if not sentences:
        return []
    evidence = weigh_up(sentences, findings, trade)
    talk = replace(evidence.talk, shown=openings(cuts, sentences))
    if talk.times[-1] < 2 * rules.least_seconds:  # no room for a second chapter
        chapters = [Chapter(start=0.0, title="", phase="introduction", sentences=[s.id for s in sentences], confidence=0.5)]
    else:
        belief = believe(talk, load_weights(evidence.opening, evidence.says), rules.least_seconds)
        starts = best_cut(talk, belief, rules.least_seconds, rules.number)
        chapters = []
        for first, last in zip(starts, [*starts[1:], len(sentences)]):
            share = belief.holds[first:last].mean(0)
            near = (np.abs(talk.times[:-1] - talk.times[first]) <= NEAR) & (np.arange(len(sentences)) > 0)
            sure = 1.0 if first == 0 else min(1.0, belief.begins[near].sum())
            chapters.append(Chapter(
                start=float(talk.times[first]), title="", phase=PHASES[share.argmax()], sentences=[s.id for s in sentences[first:last]],
                confidence=round(float(min(1.0, max(0.0, sure * share.max()))), 2)))
    if rules.asides == "folded":
        chapters = fold_asides(chapters)
    return name_chapters(chapters, sentences, findings, trade)


def fold_asides(chapters: list[Chapter]) -> list[Chapter]:
    """The same without asides: each is part of the chapter before it, one at the very beginning of the one after."""
    kept: list[Chapter] = []
    for chapter in chapters:
        if not kept:
            kept.append(chapter)
        elif chapter.phase == "aside" or kept[-1].phase == "aside":
            phase = kept[-1].phase if chapter.phase == "aside" else chapter.phase
            kept[-1] = kept[-1].model_copy(update={"phase": phase, "sentences": kept[-1].sentences + chapter.sentences})
        else:
            kept.append(chapter)
    return kept
