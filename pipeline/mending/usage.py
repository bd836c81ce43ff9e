"""How talk at the bench runs and is heard: which words and things stand beside each other there, how often each is said, and what a speech
model wrote in place of which.

The counts are of hosts' talks of which the true words are known (benchmarks/mending.py --usage makes them). A thing's words
count as themselves and, together, as one of its group: "<part>" stands where any part may stand.
"""

import math
from collections import Counter
from functools import cache
from pathlib import Path

from .scene import Scene
from .tables import read_table, write_table
from .vocabulary import Said

FILE = Path(__file__).with_name("usage.txt.gz")
STOP = "|"    # where a sentence or a part of one begins or ends
DOUBT = 0.5   # occasions added to what was counted and to what chance would have given
MOST = 2.0    # powers of ten by which two words may belong together or shun each other


class Usage:
    """Counts of words, things and pairs of them that stood side by side. A pair is one string, a space between."""

    def __init__(self, counts: Counter | None = None):
        self.counts = counts or Counter()
        self.said = sum(n for key, n in self.counts.items() if " " not in key and key[0] not in "<=>")

    @classmethod
    def of(cls, scene: Scene) -> "Usage":
        counts, words = Counter(), scene.words
        for first, last in scene.spans:
            row = [STOP, *words[first:last], STOP]
            counts.update(w for w in row[1:] if w)
            counts.update(f"{a} {b}" for a, b in zip(row, row[1:]) if a and b)
        for first, last, said in scene.clear:
            thing = kind(said)
            counts.update((thing, _thing(said.key), f"{before(scene, first)} {thing}", f"{thing} {after(scene, last)}"))
        return cls(counts)

    def __add__(self, other: "Usage") -> "Usage":
        return Usage(self.counts + other.counts)

    def __sub__(self, other: "Usage") -> "Usage":
        return Usage(self.counts - other.counts)

    def seldom_left_out(self, least: int) -> "Usage":
        return Usage(Counter({key: n for key, n in self.counts.items() if " " not in key or n >= least}))

    def tie(self, a: str, b: str) -> float:
        """How much oftener `b` follows `a` than chance would have it, in powers of ten; below 0, less often."""
        if not self.said:
            return 0.0
        chance = self.counts[a] * self.counts[b] / self.said
        return max(-MOST, min(MOST, math.log10((self.counts[f"{a} {b}"] + DOUBT) / (chance + DOUBT))))

    def misheard(self, heard: tuple[str, ...], meant: tuple[str, ...]) -> tuple[int, int]:
        """How often a speech model wrote the one where the other was said, and where it was right."""
        return self.counts[misheard_key(heard, meant)], self.counts[misheard_key(heard)]

    def often(self, word: str) -> float:
        """How often a word is said, as a Zipf figure: the power of ten of its share in a thousand million words."""
        return math.log10((self.counts[word] + DOUBT) / (self.said + DOUBT)) + 9.0 if self.said else 0.0

    def thing_often(self, said: Said) -> float:
        return math.log10(self.counts[_thing(said.key)] + 1.0)

    def write(self, file: Path) -> None:
        write_table(file, self.counts)


def kind(said: Said) -> str:
    return f"<{said.group or 'name'}>"


def misheard_key(heard: tuple[str, ...], meant: tuple[str, ...] = ()) -> str:
    return ">" + ">".join("_".join(words).replace("-", "_") for words in (heard, meant) if words)


def _thing(key: str) -> str:
    return "=" + key.replace(" ", "_")


def before(scene: Scene, first: int) -> str:
    return STOP if first in scene.opens else scene.words[first - 1]


def after(scene: Scene, last: int) -> str:
    return STOP if last in scene.ends else scene.words[last]


@cache
def usage() -> Usage:
    """The counts that the program carries."""
    return Usage(Counter({key: int(n) for key, n in read_table(FILE).items()}))
