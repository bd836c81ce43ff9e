"""How much a cut in the picture speaks for a chapter's opening, set by hand.

No annotated film with cuts was there to fit this on. The weights are logarithms of likelihood, as the fitted ones are: if one
in three lone cuts stands at an opening, and a chapter has ten sentences, an opening is (1/3) / (2/3 / 9) = 4.5 times as likely
where there is one: log 1.5. Where the host worked on in silence and the film was cut, one in two: 9 times, log 2.2.
"""

import numpy as np

from ..record import Sentence

CUT, AFTER_SILENCE = 1.5, 2.2
SILENCE = 6.0   # seconds without a word in which there is a cut: handwork was left out
NEAR = 3.0      # seconds that a cut may stand from the beginning of the sentence that it belongs to
ALONE = 60.0    # seconds to each side, over which it is counted ...
CROWD = 4       # ... how many other sentences have a cut: so many, and cuts are how the film is made


def openings(cuts: list[float], sentences: list[Sentence]) -> np.ndarray:
    """For each sentence, what the cuts add to its being an opening; nothing where there is none. `cuts` in seconds."""
    weight = np.zeros(len(sentences))
    starts, ends = np.array([s.start for s in sentences]), np.array([s.end for s in sentences])
    for cut in cuts:
        before = int(np.searchsorted(starts, cut, side="right")) - 1
        after = before + 1
        if before >= 0 and after < len(sentences) and cut >= ends[before]:
            near = after  # a cut in a silence opens what is said next, however long the silence is
            weight[near] = max(weight[near], AFTER_SILENCE if starts[after] - ends[before] >= SILENCE else CUT)
            continue
        near = min((i for i in (before, after) if 0 <= i < len(sentences)), key=lambda i: abs(starts[i] - cut), default=None)
        if near is not None and abs(starts[near] - cut) <= NEAR:
            weight[near] = max(weight[near], CUT)
    marked = starts[weight > 0]
    for i in np.flatnonzero(weight):
        others = int((np.abs(marked - starts[i]) <= ALONE).sum()) - 1
        weight[i] *= max(0.0, 1 - others / CROWD)
    return weight
