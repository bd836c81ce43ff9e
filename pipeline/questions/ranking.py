"""Which sentences of an episode answer a question, as chances: what speaks for each, weighed by what was fitted on answered questions."""

import math
from typing import TYPE_CHECKING

from ..trade import data
from .meaning import meaning

if TYPE_CHECKING:
    import numpy as np

    from .seeking import Seeker, Sought

SIGNS = ("topic root", "topic", "evidence", "kind", "must and kind", "asked", "comment", "words", "words before", "facts", "steps", "asked before", "asked after", "opening", "closing", "later", "long", "unknown")
DOUBTS = ("best evidence", "evidence apart", "must", "best words", "items", "best meaning", "best kind", "best topic", "sentences", "best asked", "asked apart", "best comment")


def signs(seeker: "Seeker", sought: "Sought") -> tuple["np.ndarray", "np.ndarray"]:
    """What speaks for each sentence (sentences x SIGNS), and what speaks for none of them (DOUBTS)."""
    import numpy as np

    count = len(seeker.sentences)
    told, here = seeker.scores(sought), range(count)
    evidence = np.array([told.get(at, 0.0) for at in here])
    raw = seeker.topic(sought.items)
    topic = np.minimum(1.0, [raw.get(at, 0.0) for at in here])
    kind = np.array([max((seeker.fitting(at, want, sought.parts) for want in sought.wants[:2]), default=0.0) for at in here])
    must = any(w.must for w in sought.wants)
    text = meaning(sought.text)
    words, near = seeker.spread.covering(text), seeker.spread.vectors @ text.vector
    asked, comment = seeker.near(sought.text), seeker.near(sought.comment or sought.text)
    start = np.array([s.start for s in seeker.sentences])
    place = start / max(1.0, seeker.sentences[-1].end)
    rows = (np.sqrt(topic), topic, np.log(evidence + 0.03), kind, must * kind, asked, comment, words - words.max(), np.pad(near, 1)[:-2], np.minimum(2, [len(seeker.facts[at]) for at in here]),
            np.minimum(2, [len(seeker.steps[at]) for at in here]), np.pad(asked, 1)[:-2], np.pad(asked, 1)[2:], place < 0.05, place > 0.95, place,
            np.minimum(1.0, np.array([len(s.text.split()) for s in seeker.sentences]) / 30), seeker.unknown)
    best, close, heard = np.sort(evidence)[::-1], np.sort(asked)[::-1], np.sort(comment)[::-1]
    doubts = (best[0], best[0] - best[1] if count > 1 else 0.0, must, words.max(), min(len(sought.items), 8) / 8, near.max(), kind.max(), max(raw.values(), default=0.0),
              math.log(count) / 6, close[0], close[0] - close[2] if count > 2 else 0.0, heard[0])
    return np.stack([np.asarray(row, float) for row in rows], 1), np.array(doubts, float)


def chances(seeker: "Seeker", sought: "Sought") -> tuple["np.ndarray", float]:
    """For each sentence how likely it answers; and how likely any does. All sentences together have the second."""
    import numpy as np

    weights = data("asked")["answer"]
    each, doubts = signs(seeker, sought)
    row = each @ np.array([weights["signs"][name] for name in SIGNS])
    none = weights["base"] + doubts @ np.array([weights["doubts"][name] for name in DOUBTS]) + weights["wants"].get(sought.wants[0].name if sought.wants else "", 0.0)
    top = max(float(row.max()), none)
    row, none = np.exp(row - top), math.exp(none - top)
    return row / (row.sum() + none), float(row.sum() / (row.sum() + none))

