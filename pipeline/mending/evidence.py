"""What speaks for a mend and against it, each as a number; how much each weighs is data, fitted by benchmarks/mending.py."""

import math
from collections.abc import Iterable, Iterator

from .candidates import Pair, listed
from .english import commonness, together
from .scene import Scene
from .usage import Usage, after as word_after, before as word_before, kind, usage

NEIGHBOURHOOD = 40  # words on each side that count as surroundings
ON_BENCH = 5        # words of clear terms among them, from which the talk is of the bench
ECHOES = 3          # places that seem to say the same; more prove no more, and none off the bench ("tell me a joke" thirty times is no talk of yokes)
LIKE = 0.1          # sound distance up to which two words are easily taken for each other


Places = dict[str, set[int]]  # thing: where it may have been said


def weigh(scene: Scene, pairs: Iterable[tuple[int, int, Pair]], talk: Usage | None = None) -> Iterator[tuple[int, int, Pair, dict[str, float]]]:
    """Each pair with the evidence on it, by the names that `[weights]` in mending.toml has. `talk` is how talk at the bench runs, unless told as the program knows it."""
    pairs, talk = list(pairs), talk or usage()
    seeming: Places = {}
    for first, last, pair in pairs:
        if (pair.slip or pair.far < LIKE) and (_noun_next(scene, first) or _order(scene, first, last)):
            seeming.setdefault(pair.said.key, set()).add(first)
    return ((first, last, pair, _evidence(scene, first, last, pair, seeming, talk)) for first, last, pair in pairs)


def _evidence(scene: Scene, first: int, last: int, pair: Pair, seeming: Places, talk: Usage) -> dict[str, float]:
    said, words = pair.said, scene.words
    (h1, h2), (s1, s2) = pair.changed, pair.meant
    changed, meant = pair.heard[h1:h2], said.words[s1:s2]
    opens, ends = first in scene.opens, last in scene.ends
    before = "" if opens else words[first - 1]
    after = "" if ends else words[last]
    chances = [scene.chances[k] for k in range(first + h1, first + h2)]
    timed = all(c is not None for c in chances)
    off_bench = max(0.0, 1 - _terms_near(scene, first, last) / ON_BENCH)
    kept = h1 > 0 or h2 < len(pair.heard)
    misheard, right = talk.misheard(changed, meant)
    return {
        # sound
        "far": pair.far,
        "far_kept": pair.far * kept,
        "same_sound": pair.far < 0.01,
        "slip": pair.slip,
        "slip_unknown": pair.slip and not scene.counts[said.key],
        "slip_common": pair.common * pair.slip,
        "slip_words": (h2 - h1 - 1) * pair.slip,
        "phrase": pair.phrase,
        "phrase_common": pair.common * pair.phrase,
        "misheard": misheard > 0,
        "misheard_times": math.log10(1 + misheard),
        "misheard_share": math.log10((misheard + 0.3) / (misheard + right + 1)) if misheard else 0.0,
        "words": h2 - h1,
        "doubt": 0.75 - sum(chances) / len(chances) if timed else 0.0,
        "timed": timed,
        # as plain English
        "common": pair.common,
        "fluent": _fluent(scene, first + h1, first + h2),
        "bench_talk": all(c in listed("leave") for c in changed) or " ".join(pair.heard) in listed("leave"),
        # as a word of the trade, in this episode
        "kept_before": h1 > 0,
        "kept_after": h2 < len(pair.heard),
        "kept_clear": h1 > 0 and all(first + k in scene.covered for k in range(h1)),
        "plain": min(map(commonness, meant)),
        "tool": said.group == "tool",
        "name": said.is_name,
        "unknown": not scene.counts[said.key],
        "times": math.log2(1 + scene.counts[said.key]),
        "lately": _lately(scene, first, last, said.key),
        "fits_reel": bool(said.reels) and scene.kind in said.reels,
        "other_reel": bool(said.reels) and scene.kind is not None and scene.kind not in said.reels,
        "echo": math.log2(1 + min(ECHOES, len(seeming.get(said.key, set()) - {first}))) * (1 - off_bench),
        "off_bench": off_bench,
        # the place in the sentence
        "noun_next": _noun_next(scene, first),
        "no_noun_next": before in listed("not_before_noun"),
        "noun_before": after in listed("after_noun"),
        "alone": opens and ends,
        "order": _order(scene, first, last),
        "ends": ends,
        # in talk at the bench
        "thing_before": talk.tie(word_before(scene, first), kind(said)),
        "thing_after": talk.tie(kind(said), word_after(scene, last)),
        "tie": _tied(scene, first + h1, first + h2, meant, talk),
        "tie_heard": _tied(scene, first + h1, first + h2, changed, talk),
        "often": talk.thing_often(said),
        "often_word": min(map(talk.often, meant)),
        "often_heard": max(map(talk.often, changed)),
        "number_next": said.is_name and after[:1].isdigit(),
    }


def _lately(scene: Scene, first: int, last: int, key: str) -> bool:
    """Is the thing said clearly in the neighbourhood?"""
    return any(first - NEIGHBOURHOOD <= k < last + NEIGHBOURHOOD for k in scene.places.get(key, ()))


def _terms_near(scene: Scene, first: int, last: int) -> int:
    """Words of clear terms in the neighbourhood."""
    a, b = max(0, first - NEIGHBOURHOOD), min(len(scene.words), last + NEIGHBOURHOOD)
    return sum(k in scene.covered for k in (*range(a, first), *range(last, b)))


def _noun_next(scene: Scene, first: int) -> bool:
    before = "" if first in scene.opens else scene.words[first - 1]
    return before in listed("before_noun") or before[:1].isdigit()


def _order(scene: Scene, first: int, last: int) -> bool:
    """Does the stretch open like an order of the bench ("nut off")?"""
    return first in scene.opens and last not in scene.ends and scene.words[last] in listed("order")


def _fluent(scene: Scene, first: int, last: int) -> float:
    """How well the heard words belong together and with their neighbours, as plain English."""
    lo, hi = first - (first not in scene.opens), last + (last not in scene.ends)
    row = scene.words[lo:hi]
    ties = [together(a, b) for a, b in zip(row, row[1:])]
    return sum(ties) / len(ties) if ties else 0.0


def _tied(scene: Scene, first: int, last: int, words: tuple[str, ...], talk: Usage) -> float:
    """How well words in the place of [first, last) belong together and with their neighbours, in talk at the bench."""
    row = (word_before(scene, first), *words, word_after(scene, last))
    return sum(talk.tie(a, b) for a, b in zip(row, row[1:])) / 2
