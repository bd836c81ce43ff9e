"""What speaks for a mend and against it, each as a number; how much each weighs is data, fitted by benchmarks/mending.py."""

import math

from .candidates import Pair, listed
from .english import commonness, together
from .scene import Scene
from .sounds import phrase_sound

NEIGHBOURHOOD = 60  # words on each side that count as surroundings


def evidence(scene: Scene, first: int, last: int, pair: Pair) -> dict[str, float]:
    """The evidence on putting `pair.said` in the place of words [first, last), by the names that `[weights]` in mending.toml has."""
    said, words = pair.said, scene.words
    (h1, h2), (s1, s2) = pair.changed, pair.meant
    changed, meant = pair.heard[h1:h2], said.words[s1:s2]
    opens, ends = first in scene.opens, last in scene.ends
    before = "" if opens else words[first - 1]
    after = "" if ends else words[last]
    chances = [scene.chances[k] for k in range(first + h1, first + h2)]
    timed = all(c is not None for c in chances)
    noun_next = before in listed("before_noun") or before[:1].isdigit()
    return {
        # sound
        "far": pair.far,
        "same_sound": pair.far < 0.01,
        "slip": pair.slip,
        "slip_unknown": pair.slip and not scene.counts[said.key],
        "last_alike": phrase_sound([changed[-1]])[-1:] == phrase_sound([meant[-1]])[-1:],
        "words": h2 - h1,
        "doubt": 0.75 - sum(chances) / len(chances) if timed else 0.0,
        "timed": timed,
        # as plain English
        "rarest": min(map(commonness, changed)),
        "common": pair.common,
        "fluent": _fluent(scene, first + h1, first + h2),
        "bench_talk": all(c in listed("leave") for c in changed) or " ".join(pair.heard) in listed("leave"),
        "repeated": math.log2(scene.repeats[changed[0]]) if len(changed) == 1 else 0.0,
        # as a word of the trade, in this episode
        "kept_before": h1 > 0,
        "kept_after": h2 < len(pair.heard),
        "kept_clear": h1 > 0 and all(first + k in scene.covered for k in range(h1)),
        "plain": min(map(commonness, meant)),
        "tool": said.group == "tool",
        "part": said.group == "part",
        "name": said.is_name,
        "unknown": not scene.counts[said.key],
        "known": math.log2(1 + scene.counts[said.key]),
        "known_words": math.log2(1 + min(scene.counts["word", w] for w in meant)),
        "at_work": bool(said.assembly) and any(abs(p - first) < NEIGHBOURHOOD for p in scene.places.get(said.assembly, ())),
        "fits_reel": bool(said.reels) and scene.kind in said.reels,
        "other_reel": bool(said.reels) and scene.kind is not None and scene.kind not in said.reels,
        # the place in the sentence
        "noun_next": noun_next,
        "no_noun_next": before in listed("not_before_noun"),
        "noun_before": after in listed("after_noun"),
        "alone": opens and ends,
        "order": opens and after in listed("order"),
        "ends": ends,
        "number_next": said.is_name and after[:1].isdigit(),
        "capital": scene.capital[first] and not opens,
    }


def _fluent(scene: Scene, first: int, last: int) -> float:
    """How well the heard words belong together and with their neighbours, as plain English."""
    lo, hi = first - (first not in scene.opens), last + (last not in scene.ends)
    row = scene.words[lo:hi]
    ties = [together(a, b) for a, b in zip(row, row[1:])]
    return sum(ties) / len(ties) if ties else 0.0
