"""Candidates for mending, and how sure we are of each: sound, place in the sentence and what surrounds it must agree."""

import math
import re
from collections import Counter
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import islice

from ..trade import data
from .sounds import phrase_sound, sound_distance
from .vocabulary import Said

LONGEST = 5          # words in a heard span
ROUGH = 0.4          # plain edit distance over phonemes, normalised, at which a pair is looked at more closely
NEAR = ((1.8, 0.22), (3.2, 0.14), (4.2, 0.11), (9.0, 0.07))  # the commoner the heard words (Zipf), the nearer the sound must be
MOST_SOUND = 22      # phonemes in a span: no term is longer
NEIGHBOURHOOD = 60   # words on each side that count as surroundings


@dataclass(frozen=True, slots=True)
class Candidate:
    first: int
    last: int            # one past
    said: Said
    confidence: float


@dataclass(frozen=True)
class Scene:
    """The words of an episode as comparable tokens, the terms clear in it, and where sentences end."""

    words: list[str]
    capital: list[bool]
    chances: list[float | None]
    spans: list[tuple[int, int]]  # stretches that no candidate crosses
    opens: frozenset[int]        # first index of each stretch
    clear: dict[int, Said]       # first index of each clearly heard term
    covered: dict[int, str]      # index of each word inside one: the words of that term
    counts: Counter              # by key
    places: dict[str, list[int]] # assembly: where its terms stand clearly


def look_over(words: list[str], capital: list[bool], chances: list[float | None], spans: list[tuple[int, int]], vocabulary: tuple[Said, ...]) -> Scene:
    written = {"".join(said.words): said for said in reversed(vocabulary)}  # "e-clip", "e clip" and "eclip" are one
    clear, covered, counts, places = {}, {}, Counter(), {}
    for first, last in spans:
        i = first
        while i < last:
            joined = [re.sub(r"[-']", "", "".join(words[i:j])) for j in range(i + 1, min(i + LONGEST, last) + 1)]
            size = next((k for k in range(len(joined), 0, -1) if joined[k - 1] in written), 0)
            if not size:
                i += 1
                continue
            said = written[joined[size - 1]]
            clear[i] = said
            counts[said.key] += 1
            counts.update(("word", w) for w in said.words)
            if said.assembly:
                places.setdefault(said.assembly, []).append(i)
            for j in range(i, i + size):
                covered[j] = joined[size - 1]
            i += size
    return Scene(words, capital, chances, spans, frozenset(a for a, _ in spans), clear, covered, counts, places)


Alike = dict[tuple[str, ...], list[int]]  # a heard span: the places in the vocabulary that sound roughly like it


def find_candidates(scene: Scene, vocabulary: tuple[Said, ...], alike: Alike) -> list[Candidate]:
    """The most likely reading of each stretch, best first, none overlapping. `alike` is kept between calls over the same vocabulary."""
    import numpy as np
    from rapidfuzz.distance import Levenshtein
    from rapidfuzz.process import cdist

    leave = _listed("leave")
    at: dict[tuple[str, ...], list[tuple[int, int]]] = {}
    for first, last in scene.spans:
        for i in range(first, last):
            for j in range(i + 1, min(i + LONGEST, last) + 1):
                span = tuple(scene.words[i:j])
                if "" in span or any(w[0].isdigit() for w in span[1:-1]):
                    break
                if all(k in scene.covered for k in range(i, j)) or " ".join(span) in leave:
                    continue
                at.setdefault(span, []).append((i, j))
    sounds = {span: sound for span in at if span not in alike and 2 <= len(sound := phrase_sound(list(span))) <= MOST_SOUND}
    targets, rows = [s.sound for s in vocabulary], iter(sounds)
    while chunk := list(islice(rows, 2048)):
        near = cdist([sounds[s] for s in chunk], targets, scorer=Levenshtein.normalized_distance, score_cutoff=ROUGH, dtype=np.float32)
        for row, span in enumerate(chunk):
            alike[span] = [int(c) for c in np.flatnonzero(near[row] <= ROUGH)]
    found: list[Candidate] = []
    for span, places in at.items():
        for said in (vocabulary[c] for c in alike.get(span, ())):
            known = max(scene.counts[said.key], min(scene.counts["word", w] for w in said.words))
            pair = _compare(span, said.words, known >= 2)
            if pair:
                found += [c for i, j in places if (c := _judge(scene, i, j, said, *pair)) and c.confidence > 0.3]
    taken, out = set(), []
    for c in sorted(found, key=lambda c: (-c.confidence, c.last - c.first, c.first)):
        if not taken & set(range(c.first, c.last)):
            taken |= set(range(c.first, c.last))
            out.append(c)
    return out


@cache
def _listed(name: str) -> frozenset[str]:
    return frozenset(data("mending")[name])


@lru_cache(maxsize=50_000)
def _commonness(word: str) -> float:
    """Zipf frequency in plain English, 0 for a word that is none (wordfreq). "grindy" is as English as "grind", nearly."""
    from wordfreq import zipf_frequency

    stem = re.sub(r"(?:y|er|ers|ed|ing|ish|ly|ness)$", "", word)
    made = zipf_frequency(stem, "en") - 1.0 if stem != word and len(stem) > 3 else 0.0
    return max(zipf_frequency(word, "en"), made)


@lru_cache(maxsize=50_000)
def _difference(heard: tuple[str, ...], said: tuple[str, ...]) -> tuple[tuple[int, int], tuple[int, int]]:
    """The stretch in which two rows of words differ, as [first, last) in each: common words at both ends taken away."""
    a, b, head, tail = len(heard), len(said), 0, 0
    while head < min(a, b) and heard[head] == said[head]:
        head += 1
    while tail < min(a, b) - head and heard[a - 1 - tail] == said[b - 1 - tail]:
        tail += 1
    return (head, a - tail), (head, b - tail)


def _compare(heard: tuple[str, ...], said: tuple[str, ...], known: bool) -> tuple[tuple[int, int], tuple[int, int], float, float] | None:
    """Where the two differ, how common what was heard is in plain English, how far apart they sound; None where it can't be."""
    (h1, h2), (s1, s2) = _difference(heard, said)
    changed, meant, kept = heard[h1:h2], said[s1:s2], len(heard) - (h2 - h1)
    if not changed or not meant:  # words only added or left out: nothing was misheard
        return None
    if all(w in _listed("small") or w in _listed("leave") for w in changed) or _same_stem("".join(changed), "".join(meant)):
        return None
    if any(w[0].isdigit() for w in changed) and not (kept and len(changed) == 1):
        return None
    common = sum(map(_commonness, changed)) / len(changed) - 0.6 * (len(changed) - 1)
    if common > 2 and len(meant) > len(changed):  # a word that stands by itself is seldom two
        common += 1.0
    limit = next(far for zipf, far in NEAR if common < zipf) + 0.05 * (kept > 0) + 0.06 * known
    a, b = phrase_sound(list(changed)), phrase_sound(list(meant))
    size = max(len(a), len(b), 3)
    if abs(len(a) - len(b)) * 0.5 / size > limit:
        return None
    far = sound_distance(a, b) / size
    return ((h1, h2), (s1, s2), common, far) if far <= limit else None


def _judge(scene: Scene, first: int, last: int, said: Said, heard_at, said_at, common: float, far: float) -> Candidate | None:
    (h1, h2), (s1, s2) = heard_at, said_at
    if any(first + k in scene.covered for k in range(h1, h2)):  # that word is a clear term itself
        return None
    score = 1.0 - 16.0 * far + 1.0 * max(-3.0, min(3.0, 3.8 - common))
    size = len(said.sound)
    score += 1.3 * (last - first > h2 - h1) + 0.25 * min(4, size - 3)
    if size <= 3:
        score -= 0.9
    known = max(scene.counts[said.key], 0.7 * min(scene.counts["word", w] for w in said.words[s1:s2]))
    score += min(1.5, 0.55 * math.log2(1 + known))
    at_work = said.assembly and any(abs(p - first) < NEIGHBOURHOOD for p in scene.places.get(said.assembly, ()))
    score += 0.8 * bool(at_work)
    if common > 2.5 and not (known or at_work or said.is_name or last - first > h2 - h1):
        score -= 1.2  # a plain word that nothing in this episode speaks against
    score += _slot(scene, first, last, said)
    chances = [scene.chances[first + k] for k in range(h1, h2)]
    if all(c is not None for c in chances):
        score += 1.6 * (0.75 - sum(chances) / len(chances))
    return Candidate(first, last, said, round(1 / (1 + math.exp(-score)), 3))


def _same_stem(heard: str, said: str) -> bool:
    """The same word in another form or spacing ("greased", "e clip"): heard well, said otherwise."""
    if heard == said:
        return True
    stem = 0
    while stem < min(len(heard), len(said)) and heard[stem] == said[stem]:
        stem += 1
    return stem >= 4 and stem >= min(len(heard), len(said)) - 2 and _commonness(heard) >= 2.5


def _slot(scene: Scene, first: int, last: int, said: Said) -> float:
    """Does the place in the sentence want a noun (or, for a name, a number after it)?"""
    opens = first in scene.opens
    before = "" if opens else scene.words[first - 1]
    after = scene.words[last] if last < len(scene.words) else ""
    if said.is_name:
        return (1.2 if after[:1].isdigit() else 0.0) + (0.6 if scene.capital[first] and not opens else 0.0)
    score = 0.0
    if before in _listed("before_noun") or before[:1].isdigit():
        score += 0.7
    elif before in _listed("not_before_noun"):
        score -= 1.2
    if after in _listed("after_noun") or not after:
        score += 0.4
    if scene.capital[first] and not opens and before not in _listed("before_noun"):
        score -= 1.5  # a person's name, more likely
    return score
