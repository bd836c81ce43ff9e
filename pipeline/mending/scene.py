"""What an episode says for certain: its words, the trade terms that stand clear in it, and the kind of reel on the bench."""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from ..hearing.words import Word
from ..trade import kinds_called
from .vocabulary import Said

LONGEST = 5  # words in a heard span, and in a term


@dataclass
class Scene:
    """The words of an episode as comparable tokens, and the terms clear among them. Keys are word indices."""

    words: list[str]                      # lower case, without punctuation
    capital: list[bool]
    chances: list[float | None]           # the speech model's probabilities
    spans: list[tuple[int, int]]          # stretches between punctuation, which no candidate crosses
    opens: frozenset[int]                 # first index of each stretch
    ends: frozenset[int]                  # one past the last
    kind: str | None = None               # of reel, as parts.toml names kinds
    clear: list[tuple[int, int, Said]] = field(default_factory=list)   # the clear terms, as [first, last)
    places: dict[str, list[int]] = field(default_factory=dict)         # of each thing among them: where
    covered: set[int] = field(default_factory=set)                     # words inside them
    counts: Counter = field(default_factory=Counter)                   # of things by key, of their words by ("word", w)


STOPS = tuple(",.;:!?")   # a word that ends with one of these ends its clause


def opens(words: Sequence[Word], first: int, at: int) -> bool:
    """Does a clause begin at word `at` of the sentence that begins at `first`?"""
    return at == first or words[at - 1].text.endswith(STOPS)


def closes(words: Sequence[Word], last: int, at: int) -> bool:
    """Does a clause end with word `at` of the sentence that ends before `last`?"""
    return at + 1 == last or words[at].text.endswith(STOPS)


def bare(text: str) -> str:
    """A word for comparing: lower case, no punctuation around it, no possessive."""
    return re.sub(r"(?:'s|’s)$", "", re.sub(r"^[^\w#]+|[^\w]+$", "", text.lower()))


def look_over(words: list[Word], sentences: list[tuple[int, int]], vocabulary: tuple[Said, ...], title: str = "") -> Scene:
    stretches = []
    for a, b in sentences:  # no term runs across a comma
        stops = [i + 1 for i in range(a, b) if words[i].text[-1:] in ",;:" and i + 1 < b]
        stretches += list(zip([a, *stops], [*stops, b]))
    scene = Scene(
        [bare(w.text) for w in words], [w.text[:1].isupper() for w in words], [w.probability for w in words], stretches,
        frozenset(a for a, _ in stretches), frozenset(b for _, b in stretches))
    kinds = _called(" ".join([title.lower().replace("-", " "), "", *scene.words]))
    written = {"".join(said.words): said for said in reversed(vocabulary)}  # "e-clip", "e clip" and "eclip" are one
    for first, last in stretches:
        i = first
        while i < last:
            joined = [re.sub(r"[-']", "", "".join(scene.words[i:j])) for j in range(i + 1, min(i + LONGEST, last) + 1)]
            size = next((k for k in range(len(joined), 0, -1) if joined[k - 1] in written), 0)
            if size:
                said = written[joined[size - 1]]
                scene.clear.append((i, i + size, said))
                scene.places.setdefault(said.key, []).append(i)
                scene.counts[said.key] += 1
                scene.counts.update(("word", w) for w in said.words)
                scene.covered.update(range(i, i + size))
                for kind in said.reels:
                    kinds[kind] += 1 / len(said.reels)
            i += size or 1
    scene.kind = kinds.most_common(1)[0][0] if kinds else None
    return scene


def _called(text: str) -> Counter:
    """Votes for each kind of reel, from what the host calls it."""
    return Counter({kind: 4 * min(3, said) for kind, said in kinds_called(text).items()})
