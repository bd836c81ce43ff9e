"""A talk as a speech model might have heard it, for scripts that nobody has spoken: slips that the model made in the talks that were.

What stood where it heard each word or run of words is counted over the spoken talks (`Slips.of`); `Slips.hear` then draws from these counts, full stops and commas included.
"""

import random
import re
from bisect import bisect_left
from collections import Counter, defaultdict

from mending import differing

from pipeline.hearing.words import Heard, Word

RUN = 3  # words on either side of a slip, at most
_MARK = re.compile(r"[.,;:?!]+$")


def _cut(token: str) -> tuple[str, str]:
    """A word and the mark that ends it: a full stop, a comma or none."""
    found = _MARK.search(token)
    mark = found.group()[0] if found else ""
    return (token[: found.start()] if found else token), ("." if mark in (".", "?", "!") else "," if mark else "")


def _plain(token: str) -> str:
    return re.sub(r"[^a-z0-9#/.'-]", "", _cut(token)[0].lower())


class Slips:
    def __init__(self) -> None:
        self.said: Counter = Counter()                    # a run of words: how often it was said
        self.heard: dict[str, Counter] = defaultdict(Counter)  # and what was heard in its place
        self.marks: dict[str, Counter] = defaultdict(Counter)  # a mark in the script: the marks heard there

    @classmethod
    def of(cls, spoken: list[tuple[list[str], list[str]]]) -> "Slips":
        """From tokens of scripts and of what was heard of them."""
        slips = cls()
        for script, heard in spoken:
            slips._count(script, heard)
        return slips

    def _count(self, script: list[str], heard: list[str]) -> None:
        true, got = [_plain(t) for t in script], [_plain(t) for t in heard]
        for long in range(1, RUN + 1):
            self.said.update(" ".join(true[i : i + long]) for i in range(len(true) - long + 1))
        said = at = 0
        for a, b, c, d in [*differing(true, got), (len(true),) * 2 + (len(got),) * 2]:
            for i, j in zip(range(said, a), range(at, c)):
                self.marks[_cut(script[i])[1]][_cut(heard[j])[1]] += 1
            if 1 <= b - a <= RUN and d - c <= RUN + 1:
                self.heard[" ".join(true[a:b])][" ".join(got[c:d])] += 1
            said, at = b, d

    def hear(self, heard: Heard, seed: str) -> Heard:
        """The same talk with slips; whatever is left of it keeps its time."""
        draw, out, i = random.Random(seed), [], 0
        words, plain = heard.words, [_plain(w.text) for w in heard.words]
        much = draw.uniform(0.9, 1.9)  # some hosts mumble; more than counted, since a word that nobody has spoken has no slip
        while i < len(words):
            long = next((n for n in range(min(RUN, len(words) - i), 0, -1) if (said := " ".join(plain[i : i + n])) in self.heard
                         and draw.random() < much * self.heard[said].total() / self.said[said]), 0)
            if not long:
                out.append(words[i].model_copy(update={"text": _cut(words[i].text)[0] + self._mark(words[i].text, draw)}))
                i += 1
                continue
            there = self.heard[" ".join(plain[i : i + long])]
            got = draw.choices(list(there), list(there.values()))[0].split()
            start, end = words[i].start, words[i + long - 1].end
            step = (end - start) / max(1, len(got))
            new = [Word(text=t, start=start + n * step, end=start + (n + 1) * step) for n, t in enumerate(got)]
            if new:
                new[-1].text += self._mark(words[i + long - 1].text, draw)
            out += new
            i += long
        for n, word in enumerate(out):
            opens = n == 0 or out[n - 1].text.endswith((".", "?", "!"))
            if opens:
                word.text = word.text[:1].upper() + word.text[1:]
            elif word.text[:1].isupper() and word.text[1:].islower() and not word.text.startswith("I'"):
                word.text = word.text.lower()
        starts = [w.start for w in out]
        breaks = sorted({min(bisect_left(starts, words[b].start), len(out) - 1) for b in heard.breaks})
        return Heard(words=out, breaks=breaks, duration=heard.duration, source=heard.source)

    def _mark(self, token: str, draw: random.Random) -> str:
        mark = _cut(token)[1]
        there = self.marks.get(mark)
        got = draw.choices(list(there), list(there.values()))[0] if there else mark
        return _MARK.search(token).group() if got == mark and mark else got
