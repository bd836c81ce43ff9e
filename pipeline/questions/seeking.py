"""Moments of an episode that answer a question."""

import math
import re
from collections import defaultdict
from dataclasses import dataclass, field
from functools import cached_property
from heapq import nlargest
from typing import TYPE_CHECKING

from ..reading.encoder import vectors
from ..record import Answer, Episode
from .cues import Want, one
from .meaning import Spread
from .ranking import chances
from .wording import Wording, stem

if TYPE_CHECKING:
    import numpy as np

APART = 12.0    # seconds: two sentences nearer than this are one answer
MOST = 3        # answers to a question
TOUCHED = 40    # sentences by which two questions are compared
SURE_KIND = 0.55  # a sentence is surely of a kind from here on
FEW = 0.4       # what being the only one of its kind is worth
LEAST = 0.01    # confidence below which a moment is not worth showing
BESIDE = 0.02    # nor one that is that much less likely than the best, as a share
_NEAR = {0: 1.0, 1: 0.35, -1: 0.6, -2: 0.4, -3: 0.25}                       # a word said just before still counts
_MEANT = {1: 0.35, 0: 1.0} | {-n: 0.75 ** n for n in range(1, 11)}                # a thing named is meant for longer


@dataclass(frozen=True)
class Sought:
    """A question as it is sought: its items with their weights, its parts, what it wants, the comment it stands in."""

    text: str
    items: dict[str, float]
    parts: frozenset[str]
    heads: frozenset[str]
    wants: tuple[Want, ...]
    around: dict[str, float]
    comment: str = ""


@dataclass(frozen=True)
class Found:
    """The moments that answer a question, the best first, and how likely any does."""

    answers: list[Answer] = field(default_factory=list)
    chance: float = 0.0


class Seeker:
    """Holds one episode ready for many questions."""

    def __init__(self, episode: Episode, wording: Wording):
        self.episode, self.wording, self.sentences = episode, wording, episode.sentences
        place = {s.id: i for i, s in enumerate(self.sentences)}
        self.own = [wording.items(s.text, fix=False) for s in self.sentences]
        self.facts, self.steps = defaultdict(list), defaultdict(list)
        for fact in episode.facts:
            for i in (place[s] for s in fact.sentences if s in place):
                self.facts[i].append(fact)
        for step in episode.steps:
            for i in (place[s] for s in step.sentences if s in place):
                self.steps[i].append(step)
        for i, items in enumerate(self.own):
            for found in (*self.facts[i], *self.steps[i]):
                for name in (found.part, getattr(found, "tool", None), getattr(found, "supply", None)):
                    for item in wording.items(name, fix=False) if name else ():
                        items.setdefault(item, 0.8)
        self.holds: dict[str, dict[int, float]] = defaultdict(dict)
        seen: dict[str, int] = defaultdict(int)
        heads = {stem(h) for h in wording.terms.heads}
        for i, items in enumerate(self.own):
            for item in items:
                seen[item] += 1
                thing = item[0] == "=" or item in heads
                for step, near in (_MEANT if thing else _NEAR).items():
                    at = i - step
                    if 0 <= at < len(self.own):
                        self.holds[item][at] = max(self.holds[item].get(at, 0.0), near)
        total = max(1, len(self.sentences))
        self.rarity = {item: math.log(1 + (total - n + 0.5) / (n + 0.5)) for item, n in seen.items()}
        self.unseen = math.log(1 + (total + 0.5) / 0.5)
        self.numbers = {f.value: f.part for f in episode.facts if f.kind == "part_number" and f.value and f.part}
        self.told_cache: dict[str, list[bool]] = {}
        self.nearness: dict[str, np.ndarray] = {}
        self.directions: dict[str, np.ndarray] = {}  # of the texts heard last, as the encoder reads them
        self.unknown = [bool(one("not_known").search(s.text.lower())) for s in self.sentences]
        self.taken_back = [bool(one("taken_back").search(s.text.lower())) for s in self.sentences]

    @cached_property
    def spread(self) -> Spread:
        return Spread([s.text for s in self.sentences])

    def hear(self, texts: list[str]) -> None:
        """Has the encoder read these texts at once, for `near`; those before are forgotten."""
        import numpy as np

        texts = list(dict.fromkeys(texts))
        if texts and self.sentences:
            said, rows = self._said
            asked = vectors(texts) - said
            asked /= np.maximum(np.linalg.norm(asked, axis=1, keepdims=True), 1e-9)
            self.nearness = dict(zip(texts, asked @ rows.T))
            self.directions = dict(zip(texts, asked.astype("float16")))

    def near(self, text: str) -> "np.ndarray":
        """How near each sentence is to a text, as the encoder reads them: cosines, what the whole talk has in common left out."""
        if text not in self.nearness:
            self.hear([text])
        return self.nearness[text]

    @cached_property
    def _said(self) -> tuple["np.ndarray", "np.ndarray"]:
        """What all sentences have in common, and each one's own direction."""
        import numpy as np

        rows = vectors([s.text for s in self.sentences])
        common = rows.mean(0)
        rows = rows - common
        return common, rows / np.maximum(np.linalg.norm(rows, axis=1, keepdims=True), 1e-9)

    def told(self, want: Want) -> list[bool]:
        if want.name not in self.told_cache:
            self.told_cache[want.name] = [bool(want.told.search(s.text.lower().rstrip())) for s in self.sentences]
        return self.told_cache[want.name]

    def topic(self, items: dict[str, float], of: dict[str, float] | None = None) -> dict[int, float]:
        """How much of what is asked about (`of`, if these are other items) each sentence speaks of."""
        of = items if of is None else of
        whole = sum(w * min(self.rarity.get(item, self.unseen * (0.6 if item[0] in "=#" else 0.35)), self.unseen) for item, w in of.items())
        topic: dict[int, float] = defaultdict(float)
        for item, weight in items.items() if whole else ():
            for at, near in self.holds.get(item, {}).items():
                topic[at] += weight * near * self.rarity[item] / whole
        return topic

    def scores(self, sought: Sought) -> dict[int, float]:
        """How well each sentence that has something to do with the question fits it by its words, 0 to 1."""
        topic = self.topic(sought.items)
        for at, more in self.topic(sought.around, of=sought.items).items():
            topic[at] += 0.6 * more
        if not topic:
            return {}
        for at, floor in self._rare(sought).items():  # the noun may have been heard wrong, or lie far back
            topic[at] += (1 - min(1.0, topic[at])) * floor
        alone = {at: self._confidence(at, min(1.0, t), sought) for at, t in topic.items() if t > 0.08}
        return {at: 1 - (1 - c) * self._beside(at, alone) for at, c in alone.items()}

    def _beside(self, at: int, alone: dict[int, float]) -> float:
        """The chance left that nothing around a sentence answers: an answer is often spread over a few of them."""
        here, left = self.sentences[at], 1.0
        for other in (at - 2, at - 1, at + 1, at + 2):
            if other in alone and abs(self.sentences[other].start - here.start) < APART:
                left *= 1 - 0.22 * alone[other]
        return left

    def _rare(self, sought: Sought) -> dict[int, float]:
        """Sentences of the kind that is wanted first, where the episode has few: each may be it, whatever it names."""
        if not sought.wants or not sought.wants[0].must:
            return {}
        fits = [at for at in range(len(self.sentences)) if self.fitting(at, sought.wants[0], frozenset()) >= SURE_KIND]
        return {at: FEW / len(fits) ** 0.5 for at in fits}

    def _confidence(self, at: int, topic: float, sought: Sought) -> float:
        if not sought.wants:
            return topic * 0.75
        best = 0.0
        for rank, want in enumerate(sought.wants):
            best = max(best, self.fitting(at, want, sought.parts) * (1.0 if rank == 0 else 0.92))
        score = topic ** 0.8 * (0.3 + 0.7 * best)
        if best < 0.3 and any(w.must for w in sought.wants):
            score *= 0.35
        others = self.wording.parts(self.own[at])
        if sought.parts and others and not sought.parts & others:
            score *= 0.75
        if self.unknown[at]:
            score *= 0.4
        if best > 0.4 and any(self.taken_back[max(0, at - 5):at + 2]):
            score = min(1.0, score * 1.25)
        return score

    def fitting(self, at: int, want: Want, parts: frozenset[str]) -> float:
        """How well a sentence is the kind of thing that is wanted, from 0 to 1."""
        no = 1.0
        for fact in self.facts[at]:
            weight = want.kinds.get(fact.kind, 0.0) * fact.confidence
            if weight:
                ours = not parts or not fact.part or fact.part in parts
                no *= 1 - 0.75 * weight * (1.0 if ours else 0.6)
        for step in self.steps[at]:
            if step.do in want.do:
                no *= 1 - 0.5 * (1.0 if not parts or step.part in parts else 0.4)
        if self.told(want)[at]:
            no *= 0.55
        return 1 - no

    def _went_back(self, sought: Sought) -> dict[int, float]:
        """Where the part that a viewer misses goes back on. Who asks has not seen it: only the ledger says that it did."""
        missed = re.search(r"\b(?:the|that|those|my|your|any|a)\b ([a-z' -]+?)(?= (?:on|of|for|in|from|under|ever|actually|go|goes|went|back|come|end|get)\b|[?.!,]|$)", sought.text)
        thing = self.wording.term(missed[1]) if missed else None
        scores = {at: min(c, 0.25) for at, c in self.scores(sought).items()}
        for line in self.episode.ledger:
            if line.part == thing and line.on is not None:
                at = min(range(len(self.sentences)), key=lambda i: abs(self.sentences[i].start - line.on))
                scores[at] = line.confidence
        return scores

    def moments(self, sought: Sought) -> dict[int, float]:
        """The sentences that have most to do with the question, each with how well it fits."""
        return dict(nlargest(TOUCHED, self.scores(sought).items(), key=lambda pair: (pair[1], -pair[0])))

    def find(self, sought: Sought) -> Found:
        """The moments that answer, the best first; none nearer than APART to a better one."""
        if not self.sentences:
            return Found()
        if any(w.name == "went back" for w in sought.wants):
            scores = self._went_back(sought)
            return Found(self._apart(scores, scores), max(scores.values(), default=0.0))
        import numpy as np

        each, chance = chances(self, sought)
        start = np.array([s.start for s in self.sentences])
        order = np.argsort(start, kind="stable")  # an answer is often spread over a few sentences
        total = np.concatenate([[0.0], each[order].cumsum()])
        near = total[np.searchsorted(start[order], start + APART, "right")] - total[np.searchsorted(start[order], start - APART, "left")]
        sure = {at: min(1.0, float(near[at])) for at in np.flatnonzero(each > 1e-4)}
        return Found(self._apart({at: p + float(each[at]) / 2 for at, p in sure.items()}, sure), chance)

    def _apart(self, merit: dict[int, float], sure: dict[int, float]) -> list[Answer]:
        """The best by merit, APART from each other, each with how sure it is, no surer than a better one."""
        kept: list[Answer] = []
        for at in sorted(merit, key=lambda at: (-merit[at], at)):
            confidence = min(sure[at], kept[-1].confidence) if kept else sure[at]
            if confidence < max(LEAST, BESIDE * kept[0].confidence if kept else 0.0) or len(kept) == MOST:
                break
            s = self.sentences[at]
            if all(s.start > a.end + APART or s.end < a.start - APART for a in kept):
                kept.append(Answer(episode=self.episode.id, start=s.start, end=s.end, text=s.text, confidence=round(confidence, 3)))
        return kept
