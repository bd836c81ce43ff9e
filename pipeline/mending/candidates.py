"""Candidates: spans of heard words, and the terms that sound like them or are known slips of hearing."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import islice, product

from ..trade import data
from ..trade.names import plural
from .english import commonness
from .scene import LONGEST, Scene
from .sounds import phrase_sound, sound_distance
from .vocabulary import Said, split_words

ROUGH = 0.4      # plain edit distance over phonemes, normalised, at which a pair is looked at more closely
NEAR = ((3.2, 0.36), (5.0, 0.30), (9.0, 0.22))  # the commoner the heard words (Zipf), the nearer the sound must be
MOST_SOUND = 22  # phonemes in a span: no term is longer

Alike = dict[tuple[str, ...], list[int]]  # a heard span: the places in the vocabulary that sound roughly like it


@dataclass(frozen=True, slots=True)
class Pair:
    """A heard span beside what may have been said, and what differs between the two."""

    said: Said
    heard: tuple[str, ...]
    changed: tuple[int, int]   # [first, last) in `heard`: words alike at both ends are taken away
    meant: tuple[int, int]     # the same in `said.words`
    common: float              # of the changed words in plain English, Zipf
    far: float                 # between the two in sound, a share of the longer
    slip: bool                 # a slip of hearing that is known, of one word
    phrase: bool               # of several


def find_pairs(scene: Scene, vocabulary: tuple[Said, ...], alike: Alike) -> Iterator[tuple[int, int, Pair]]:
    """Every [first, last) stretch of words with what may have been said there. `alike` is kept between calls over the same vocabulary."""
    at: dict[tuple[str, ...], list[tuple[int, int]]] = {}
    for first, last in scene.spans:
        for i in range(first, last):
            for j in range(i + 1, min(i + LONGEST, last) + 1):
                span = tuple(scene.words[i:j])
                if "" in span or any(w[0].isdigit() for w in span[1:-1]):
                    break
                if not all(k in scene.covered for k in range(i, j)):
                    at.setdefault(span, []).append((i, j))
    _listen(at, vocabulary, alike)
    for span, places in at.items():
        for said in (vocabulary[c] for c in alike[span]):
            known = max(scene.counts[said.key], min(scene.counts["word", w] for w in said.words)) >= 2
            if pair := _compare(span, said, known):
                yield from ((i, j, pair) for i, j in places if _open(scene, i, j, pair))


def _open(scene: Scene, first: int, last: int, pair: Pair) -> bool:
    """May the words that differ be other than heard? Not where a clear term is among them, but for a known phrase ("the penny and": a pinion) that does not go on as plain talk ("a penny in the slot")."""
    clear = [first + k in scene.covered for k in range(*pair.changed)]
    if not any(clear):
        return True
    return pair.phrase and not all(clear) and (last in scene.ends or scene.words[last] not in listed("articles"))


def _listen(spans, vocabulary: tuple[Said, ...], alike: Alike) -> None:
    """Fill `alike` for the spans that are new."""
    import numpy as np
    from rapidfuzz.distance import Levenshtein
    from rapidfuzz.process import cdist

    new = [s for s in spans if s not in alike]
    places = {said.words: n for n, said in reversed(list(enumerate(vocabulary)))}
    for span in new:
        meant = list(product(*(({w} | slips(w)) for w in span))) if any(map(slips, span)) else []
        alike[span] = [places[words] for words in (*meant, *phrase_slips(span)) if words != span and words in places]
    sounds = {span: sound for span in new if 2 <= len(sound := phrase_sound(list(span))) <= MOST_SOUND}
    targets, rows = [s.sound for s in vocabulary], iter(sounds)
    while chunk := list(islice(rows, 2048)):
        near = cdist([sounds[s] for s in chunk], targets, scorer=Levenshtein.normalized_distance, score_cutoff=ROUGH, dtype=np.float32)
        for row, span in zip(near, chunk):
            alike[span] = sorted({*alike[span], *map(int, np.flatnonzero(row <= ROUGH))})


@lru_cache(maxsize=10_000)
def slips(heard: str) -> frozenset[str]:
    """What else this word may be, after the trade's known slips of hearing: "poles" → {"pawls"}."""
    known = _slips()
    one = {m + "s" for m in known.get(heard[:-1], ())} if heard.endswith("s") else set()
    return frozenset(known.get(heard, set()) | one)


def phrase_slips(heard: tuple[str, ...]) -> frozenset[tuple[str, ...]]:
    """The terms that this row of words is known to be heard for: ("level", "one") → {("level", "wind")}."""
    return _phrases().get(heard, frozenset())


@cache
def _phrases() -> dict[tuple[str, ...], frozenset[tuple[str, ...]]]:
    table: dict[tuple[str, ...], set[tuple[str, ...]]] = {}
    for said, heard in data("mending")["phrases"].items():
        for phrase in heard:
            table.setdefault(tuple(phrase.split()), set()).add(split_words(said))
            table.setdefault(tuple(plural(phrase).split()), set()).add(split_words(plural(said)))
    return {heard: frozenset(said) for heard, said in table.items()}


@cache
def _slips() -> dict[str, set[str]]:
    table: dict[str, set[str]] = {}
    for said, heard in data("mending")["slips"].items():
        for word in heard:
            table.setdefault(word, set()).add(said)
    return table


@cache
def listed(name: str) -> frozenset[str]:
    return frozenset(data("mending")[name])


@lru_cache(maxsize=50_000)
def _difference(heard: tuple[str, ...], said: tuple[str, ...]) -> tuple[tuple[int, int], tuple[int, int]]:
    """The stretch in which two rows of words differ, as [first, last) in each: common words at both ends taken away."""
    a, b, head, tail = len(heard), len(said), 0, 0
    while head < min(a, b) and heard[head] == said[head]:
        head += 1
    while tail < min(a, b) - head and heard[a - 1 - tail] == said[b - 1 - tail]:
        tail += 1
    return (head, a - tail), (head, b - tail)


def _compare(heard: tuple[str, ...], said: Said, known: bool) -> Pair | None:
    """The two beside each other; None where it can't be that the one is the other."""
    (h1, h2), (s1, s2) = _difference(heard, said.words)
    changed, meant, kept = heard[h1:h2], said.words[s1:s2], len(heard) - (h2 - h1)
    if not changed or not meant or kept and said.is_name:  # words only added or left out: nothing was misheard
        return None
    phrase = said.words in phrase_slips(heard)
    if not phrase and (
            all(w in listed("small") for w in changed) or _same_stem("".join(w for w in changed if w not in listed("small")), "".join(meant))
            or any(w[0].isdigit() for w in changed) and not (kept and len(changed) == 1)):
        return None
    common = sum(map(commonness, changed)) / len(changed) - 0.6 * (len(changed) - 1)
    slip = len(changed) == len(meant) and all(m in slips(c) for c, m in zip(changed, meant))
    limit = next(far for zipf, far in NEAR if common < zipf) + 0.06 * (kept > 0) + 0.06 * known
    a, b = phrase_sound(list(changed)), phrase_sound(list(meant))
    size = max(len(a), len(b), 3)
    if abs(len(a) - len(b)) * 0.5 / size > limit and not (slip or phrase):
        return None
    far = sound_distance(a, b) / size
    return Pair(said, heard, (h1, h2), (s1, s2), common, far, slip, phrase) if far <= limit or slip or phrase else None


def _same_stem(heard: str, said: str) -> bool:
    """The same word in another form or spacing ("greased", "zipper", "e clip"): heard well, said otherwise."""
    heard, said = re.sub(r"[-']", "", heard), re.sub(r"[-']", "", said)
    if heard == said or len(said) >= 3 and heard.startswith(said) and commonness(heard) >= 3.0:
        return True
    stem = 0
    while stem < min(len(heard), len(said)) and heard[stem] == said[stem]:
        stem += 1
    return stem >= 4 and stem >= min(len(heard), len(said)) - 2 and commonness(heard) >= 2.5
