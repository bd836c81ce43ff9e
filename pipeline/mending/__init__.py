"""Mending: words as heard to sentences, trade terms put right, every change on record."""

import re
from collections.abc import Collection
from typing import NamedTuple

from pydantic import BaseModel

from ..hearing.words import Heard, Word
from ..record import Mend, Sentence
from ..trade import Trade
from .counts import heard_counts
from .figures import figures, rewritten
from .judge import Candidate, find_candidates
from .names import Names
from .orders import heard_orders
from .places import heard_places
from .scene import bare, look_over
from .sentences import sentence_spans
from .stacks import heard_stacks
from .vocabulary import split_words, vocabulary

THRESHOLD = 0.5  # confidence from which a mend is made; below it, from SUGGEST, it is only suggested
SUGGEST = 0.3
PASSES = 5        # a term put right makes the next one likelier
REACH = 5.0       # seconds by which a refused mend may have moved in another hearing
REFUSED = "refused by the host"
TAUGHT = "taught by the host"
BY_PLACE = (heard_counts, heard_stacks, heard_orders, heard_places)  # what each finds is told by where it stands


class Refusal(NamedTuple):
    """A mend that the host does not want: by what was heard or what was put in its place, at one moment (seconds) or anywhere."""

    words: str
    at: float | None = None


class Mended(BaseModel):
    """Sentences for reading, and the words as mended with their times, for captions. `spans` are [first, last) word indices, one a sentence."""

    sentences: list[Sentence]
    words: list[Word]
    spans: list[tuple[int, int]]


def mend(heard: Heard, trade: Trade, title: str = "", threshold: float = THRESHOLD, refused: Collection[Refusal] = ()) -> Mended:
    """Sentences with their trade terms put right; a mend below `threshold` is only suggested.

    Without a mend a sentence's text is what was heard, to the letter. What is `refused`, here or by the glossary, stays as heard.
    """
    words = list(heard.words)
    spans = sentence_spans(heard)
    mends: list[list[Mend]] = [[] for _ in spans]
    texts = [" ".join(w.text for w in words[a:b]) for a, b in spans]
    refused = [(_plain(r.words), r.at) for r in (*refused, *map(Refusal, trade.glossary.leave))]
    words, spans = _told(words, spans, mends, refused, threshold, _as_taught(words, spans, trade.glossary.hear_as))
    words, spans = _told(words, spans, mends, refused, threshold, _by_place(words, spans))
    said, alike = vocabulary(trade, title), {}
    named = Names.of(said, title, trade.glossary)
    for _ in range(PASSES):
        found = find_candidates(look_over(words, spans, said, title), said, alike)
        left = [c for c in found if not _refuses(refused, words, c)]
        sure = [c for c in left if c.confidence >= threshold and not named.in_passing(words, c)]
        if not sure:
            break
        words, spans = _replace(words, spans, mends, [
            (c.first, c.last, c.said.text, "sounds alike, a name" if c.said.is_name else "sounds alike, trade word", c.confidence) for c in sure])
    for c in found:
        if c not in sure and c.confidence >= (SUGGEST if c in left else threshold):
            why = "sounds alike, not sure" if c in left else REFUSED
            mends[_sentence_of(spans, c.first)].append(_mend(words[c.first:c.last], c.said.text, why, c.confidence, applied=False))
    names = [v.text for v in said if v.is_name]
    sentences = [
        Sentence(id=f"s{n}", start=words[a].start, end=words[b - 1].end, text=" ".join(w.text for w in words[a:b]), heard=text, mends=m)
        for n, ((a, b), text, m) in enumerate(zip(spans, texts, mends), 1)
    ]
    for s in sentences:
        s.numbers = [m for m in figures(s.text, names) if not _matches(refused, {_plain(m.from_), _plain(m.to)}, s.start, s.end)]
    return Mended(sentences=sentences, words=words, spans=spans)


def _plain(text: str) -> tuple[str, ...]:
    return split_words(" ".join(map(bare, text.split())))


def _refuses(refused, words: list[Word], c: Candidate) -> bool:
    ways = {_plain(" ".join(w.text for w in words[a:b])) for a, b in ((c.first, c.last), c.changed)} | {c.said.words}
    return _matches(refused, ways, words[c.first].start, words[c.last - 1].end)


def _matches(refused, ways: set[tuple[str, ...]], start: float, end: float) -> bool:
    return any(said in ways and (at is None or start - REACH <= at <= end + REACH) for said, at in refused)


def _sentence_of(spans: list[tuple[int, int]], word: int) -> int:
    return next(n for n, (a, b) in enumerate(spans) if a <= word < b)


def _mend(words: list[Word], to: str, why: str, confidence: float, applied: bool = True) -> Mend:
    heard = re.sub(r"^[^\w#]+|[^\w]+$", "", " ".join(w.text for w in words))
    return Mend(**{"from": heard}, to=to, why=why, confidence=confidence, applied=applied)


def _replace(words, spans, mends, changes):
    """Put `changes` (first, last, text, why, confidence) into words and spans; each goes on record in its sentence's mends."""
    changes = sorted(changes)
    out, at = [], 0
    moved = {}
    for first, last, text, why, confidence in changes:
        for i in range(at, first):
            moved[i] = len(out)
            out.append(words[i])
        moved[first] = len(out)
        old = words[first:last]
        out += rewritten(old, text)
        mends[_sentence_of(spans, first)].append(_mend(old, text, why, confidence))
        at = last
    for i in range(at, len(words)):
        moved[i] = len(out)
        out.append(words[i])
    moved[len(words)] = len(out)
    return out, [(moved[a], moved[b]) for a, b in spans]


def _told(words, spans, mends, refused, threshold, found):
    """Make the changes in `found` (first, last, text, why, confidence) that are sure enough and not refused, one a word; what is not made goes on record."""
    changes, free = [], 0
    for first, last, text, why, sure in sorted(found):
        if first < free:
            continue  # one mend a word
        free = last
        no = _matches(refused, {_plain(" ".join(w.text for w in words[first:last])), _plain(text)}, words[first].start, words[last - 1].end)
        if not no and sure >= threshold:
            changes.append((first, last, text, why, sure))
        else:
            mends[_sentence_of(spans, first)].append(_mend(words[first:last], text, REFUSED if no else why, sure, applied=False))
    return _replace(words, spans, mends, changes) if changes else (words, spans)


def _by_place(words, spans):
    """What was written as plain words and is told by where it stands: counts, washers of a list, parts in short order, and what the words beside it tell."""
    return (change for look in BY_PLACE for change in look(words, spans))


def _as_taught(words, spans, hear_as):
    """What the host has said to hear something as; the longest wording first."""
    taught = {split_words(k): v for k, v in hear_as.items() if k.strip() and v.strip()}
    keys, plain = sorted(taught, key=len, reverse=True), [bare(w.text) for w in words]
    for first, last in spans:
        i = first
        while i < last:
            key = next((k for k in keys if tuple(plain[i:i + len(k)]) == k and i + len(k) <= last), None)
            if key and " ".join(key) != taught[key].lower():
                yield i, i + len(key), taught[key], TAUGHT, 1.0
            i += len(key) if key else 1
