"""A talk cut into windows of some twelve lines: what the encoder reads at a time."""

from bisect import bisect_right
from collections.abc import Iterator
from functools import cached_property
from itertools import accumulate
from typing import TYPE_CHECKING

from .encoder import START, STOP, encoder, side_by_side

if TYPE_CHECKING:
    import numpy as np

WINDOW, STRIDE = 288, 216    # word pieces of a window, and how far the next one begins after it
SENTENCE = 90                # word pieces of a sentence; what is beyond is not read
LEAD = 64                    # windows read before they are asked for, at most; one's vectors are 0.9 MB


class Windows:
    """The windows of a talk. The encoder begins to read them at once, while the caller does other work.

    `ids[i]` are the word pieces of sentence i, `offsets[i]` where each stands in its text (characters, first and the one after the last).
    `spans[w]` is the first sentence of window w and the one after its last.
    """

    def __init__(self, texts: list[str]) -> None:
        tokenizer = encoder()[1]
        pieces = [tokenizer.encode(text, add_special_tokens=False) for text in texts]
        self.ids = [p.ids[:SENTENCE] for p in pieces]
        self.offsets = [p.offsets[:SENTENCE] for p in pieces]
        self.spans = cut([len(i) for i in self.ids])
        self._vectors = side_by_side([[[START, *(p for i in range(a, b) for p in (*self.ids[i], STOP))]] for a, b in self.spans], LEAD)

    def __iter__(self) -> Iterator[tuple[int, int, int, "np.ndarray"]]:
        """Number of each window, its span, and a vector for each of its word pieces (pieces × 768), marks included. Once only."""
        for w, ((a, b), rows) in enumerate(zip(self.spans, self._vectors)):
            yield w, a, b, rows[0]

    def place(self, sentence: int, start: int, end: int) -> tuple[int, int]:
        """First and last word piece of a stretch of a sentence's characters."""
        offsets = self.offsets[sentence]
        inside = [n for n, (a, b) in enumerate(offsets) if b > start and a < end]
        return (inside[0], inside[-1]) if inside else (0, max(0, len(offsets) - 1))

    @cached_property
    def home(self) -> list[int]:
        """For each sentence the window that shows most of the talk around it, the first of these."""
        home, most = [0] * len(self.ids), [-1.0] * len(self.ids)
        for w, (a, b) in enumerate(self.spans):
            for i in range(a, b):
                if (shown := middle((a, b), i, len(self.ids))) > most[i]:
                    home[i], most[i] = w, shown
        return home

    def share(self, w: int) -> list[float]:
        """How much a window counts for each of its sentences among those windows that show it."""
        return [share(self.spans, w, i, len(self.ids)) for i in range(*self.spans[w])]


def cut(lengths: list[int]) -> list[tuple[int, int]]:
    """First sentence of each window and the one after its last, for sentences of so many word pieces."""
    starts = [0, *accumulate(n + 1 for n in lengths)]
    out, a = [], 0
    while a < len(lengths):
        b = max(a + 1, bisect_right(starts, starts[a] + WINDOW) - 1)
        out.append((a, b))
        if b == len(lengths):
            break
        a = max(a + 1, bisect_right(starts, starts[a] + STRIDE) - 1)
    return out


def middle(window: tuple[int, int], i: int, count: int) -> float:
    """How much of the talk around sentence i the window shows; what went before counts more."""
    a, b = window
    return min(i - a + (99 if a == 0 else 0), 3 * (b - 1 - i) + (99 if b == count else 0)) if a <= i < b else -1


def share(windows: list[tuple[int, int]], w: int, i: int, count: int) -> float:
    """How much window w counts for sentence i among those that show it: each by how much it shows around the sentence."""
    counts = {k: min(middle(windows[k], i, count), 5) + 1 for k in range(max(0, w - 4), min(len(windows), w + 5)) if windows[k][0] <= i < windows[k][1]}
    return counts[w] / sum(counts.values())
