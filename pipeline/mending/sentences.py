"""Where sentences begin and end in a stream of heard words.

A speech model that loses its full stops loses them for minutes, and many captions have none. Where what stands between two stops is
longer than anybody talks, it is cut where the words on both sides, a comma and a pause make an end likely (stops.txt.gz, counted by
benchmarks/stops.py in hosts' talks of which the true words are known).
"""

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from ..hearing.words import Heard, Word
from .tables import read_table

FILE = Path(__file__).with_name("stops.txt.gz")
LONG_SILENCE = 1.2  # seconds: a stop at the bench ends a sentence, whatever the punctuation says
LONGEST = 45        # words: a longer sentence has lost its stops
SEVERAL = 14        # words: in a talk without stops, what is longer may be several sentences
EASY, LONG = 16, 10.0  # words: longer pieces than this are less and less likely, by the square of what is over as a share of LONG
PAUSE, PAUSES = 0.5, 1.9  # seconds, and what a longer one adds: 0.62 of the stops and 0.09 of the commas in the practice footage (benchmarks/stops.py --pauses)


def sentence_spans(heard: Heard) -> list[tuple[int, int]]:
    """[first, last) word indices of each sentence, in order, covering all words."""
    spans, first, words = [], 0, heard.words
    opens_cue = set(heard.breaks)
    for i, word in enumerate(words):
        last = i + 1
        ends = _stops(word) or last == len(words)
        if not ends and last < len(words):
            ends = words[last].start - word.end > LONG_SILENCE or (
                last in opens_cue and words[last].text[:1].isupper() and last - first >= 4)
        if ends:
            spans.append((first, last))
            first = last
    most = SEVERAL if sum(map(_stops, words)) * LONGEST < len(words) else LONGEST
    return [piece for span in spans for piece in (_cut(words, *span) if span[1] - span[0] > most else [span])]


def _stops(word: Word) -> bool:
    return word.text[-1:] in ".?!"


def _cut(words: list[Word], first: int, last: int) -> Iterator[tuple[int, int]]:
    """The likeliest sentences of a stretch without a stop: ends by what speaks for them, pieces by their length."""
    plain = [unmarked(w.text) for w in words[first:last]]
    ends = [_end(plain, i, w.text[-1:] in ",;:") + (PAUSES if words[first + i + 1].start - w.end > PAUSE else 0.0) for i, w in enumerate(words[first:last - 1])]
    best, back = [0.0], [0]  # of the first n words: the best sum, and where its last piece begins
    for n in range(1, len(plain) + 1):
        gain = ends[n - 1] if n < len(plain) else 0.0
        at = max(range(max(0, n - 2 * LONGEST), n), key=lambda k: best[k] - _strain(n - k))
        best.append(best[at] - _strain(n - at) + gain)
        back.append(at)
    cuts = [len(plain)]
    while cuts[-1]:
        cuts.append(back[cuts[-1]])
    cuts.reverse()
    return ((first + a, first + b) for a, b in zip(cuts, cuts[1:]))


def _strain(length: int) -> float:
    return (max(0, length - EASY) / LONG) ** 2


def _end(words: list[str], i: int, comma: bool) -> float:
    """Log odds that a sentence ends with word i."""
    weights = _weights()
    kind = "," if comma else " "
    return weights[kind] + sum(weights.get(kind + sign, 0.0) for sign in signs(words, i))


def signs(words: list[str], i: int) -> list[str]:
    """What the words around the end of word i are, as the weights name it: the last two and the next three, alone and together."""
    at = lambda k: words[i + k] if 0 <= i + k < len(words) else "^"  # noqa: E731
    return [f"0 {at(0)}", f"1 {at(1)}", f"2 {at(2)}", f"-1 {at(-1)}", f"-1,0 {at(-1)} {at(0)}", f"0,1 {at(0)} {at(1)}", f"1,2 {at(1)} {at(2)}", f"1,2,3 {at(1)} {at(2)} {at(3)}"]


def unmarked(word: str) -> str:
    """A word without its marks, in small letters; "it's" stays itself, for it opens sentences as "it" does not."""
    return re.sub(r"[^\w'#/.-]", "", word).lower().strip(".'-")


@cache
def _weights() -> dict[str, float]:
    return read_table(FILE)
