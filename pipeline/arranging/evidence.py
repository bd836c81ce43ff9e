"""What each sentence says for a phase of the service, and how much it sounds like the opening of a chapter.

Two tables of plain numbers, with a name for every column: the model in `segments` weighs them. Windows are in seconds, since
a speech model cuts the same talk into long sentences or short ones.
"""

import math
import re
from collections import Counter
from dataclasses import dataclass
from functools import cache
from typing import get_args

import numpy as np
from snowballstemmer import stemmer

from ..reading.evidence import odds
from ..reading.findings import Findings
from ..record import Action, FactKind, Sentence
from ..trade import Trade, data
from .segments import NEAR, PHASES, USUAL_LENGTH, Talk

PLACES = 8              # stretches of the episode, for where in it a phase is usual
WINDOWS = (15, 30, 60)  # seconds to each side, where what is talked of before and after is compared
MOST = 2.0              # what one sentence can count for one thing, however often it says it
FLOOR = 1e-3            # a chance of the reader's counts as no smaller
OPENS_USUALLY = 0.1     # share of sentences that open a chapter: what a sentence says that the reader did not see
_STEM = stemmer("english").stemWord


@dataclass(frozen=True)
class Evidence:
    talk: Talk
    opening: tuple[str, ...]  # names of the columns of talk.opening
    says: tuple[str, ...]     # names of the columns of talk.says


def weigh_up(sentences: list[Sentence], findings: Findings, trade: Trade) -> Evidence:
    """The evidence of the whole talk; at least one sentence."""
    seen = _Seen(sentences, findings, trade)
    says, opening = _says(seen), _opening(seen)
    talk = Talk(seen.times, np.stack(list(opening.values()), 1), np.stack(list(says.values()), 1))
    return Evidence(talk, tuple(opening), tuple(says))


class _Seen:
    """The sentences with what was found in each."""

    def __init__(self, sentences: list[Sentence], findings: Findings, trade: Trade):
        self.sentences, self.findings, self.n = sentences, findings, len(sentences)
        self.index = {s.id: i for i, s in enumerate(sentences)}
        self.starts = np.array([0.0, *(s.start for s in sentences[1:])])
        self.times = np.append(self.starts, max(sentences[-1].end, self.starts[-1] + 0.01, 1.0))
        self.texts = [_bare(s.text) for s in sentences]
        assembly = {t.name: t.assembly for t in trade.terms}
        self.parts = [set() for _ in sentences]
        self.things = np.zeros(self.n)
        self.work = [Counter() for _ in sentences]  # parts, and at less weight the assemblies they belong to
        for m in findings.mentions:
            i = self.index.get(m.sentence)
            if i is None:
                continue
            self.things[i] += 1
            if m.group == "part":
                self.parts[i].add(m.name)
                self.work[i][m.name] += 1.0
                if assembly.get(m.name):
                    self.work[i]["assembly " + assembly[m.name]] += 0.7
        self.steps = np.zeros(self.n)
        for step in findings.steps:
            if step.sentences and step.sentences[0] in self.index:
                self.steps[self.index[step.sentences[0]]] += step.confidence
        self.story = np.zeros(self.n)
        for i in self.at(findings.stories):
            self.story[i] = 1.0
        # what the reader sees beyond what goes for any sentence; nothing where it did not look
        self.phases, self.opens = np.full((self.n, len(PHASES)), 1 / len(PHASES)), np.full(self.n, OPENS_USUALLY)
        for sight in findings.sights:
            if sight.sentence in self.index:
                i = self.index[sight.sentence]
                self.phases[i], self.opens[i] = [sight.phases.get(p, 0.0) for p in PHASES], sight.opens
        self.odds = np.array([odds(chance) for chance in self.opens]) - odds(OPENS_USUALLY)
        plain = {_STEM(w) for w in data("phases")["opens"]["plain"]}
        words = [Counter(w for w in _stems(text) if w not in plain) for text in self.texts]
        spread = Counter(w for bag in words for w in bag)
        self.words = [Counter({w: c * math.log(1 + self.n / spread[w]) for w, c in bag.items()}) for bag in words]

    def at(self, ids: list[str]) -> list[int]:
        return [self.index[s] for s in ids if s in self.index]

    def within(self, start: float, end: float) -> range:
        """The sentences that begin in [start, end)."""
        return range(*np.searchsorted(self.starts, (start, end)))


def _says(seen: _Seen) -> dict[str, np.ndarray]:
    """By name, for each sentence: how often cues of each phase stand in it, what is done and found in it, what the reader holds it for, where in the episode it stands."""
    table: dict[str, np.ndarray] = {}
    lower = [s.text.lower() for s in seen.sentences]
    for phase, rows in data("phases")["says"].items():
        for name, cues in rows.items():
            table[f"{phase}: {name}"] = np.array([min(MOST, len(set(_pattern(tuple(cues)).findall(t)))) for t in lower])
    for kind, values, found, field in (("does", get_args(Action), seen.findings.steps, "do"), ("fact", get_args(FactKind), seen.findings.facts, "kind")):
        for value in values:
            table[f"{kind}: {value}"] = np.zeros(seen.n)
        for item in found:
            at = seen.at(item.sentences)
            for i in at:
                table[f"{kind}: {getattr(item, field)}"][i] += item.confidence / len(at)
    table = {name: MOST * np.tanh(row / MOST) for name, row in table.items()}
    table |= {f"reader: {p}": row for p, row in zip(PHASES, np.log(np.maximum(seen.phases, FLOOR) * len(PHASES)).T)}
    table["story"] = seen.story
    share, long = seen.starts / seen.times[-1], np.diff(seen.times) / (USUAL_LENGTH * max(1.0, seen.times[-1] / 600) ** 0.5)
    for place in range(PLACES + 1):
        table[f"place: {place} of {PLACES}"] = np.maximum(0.0, 1 - np.abs(share * PLACES - place)) * long
    return table


def _opening(seen: _Seen) -> dict[str, np.ndarray]:
    """By name, for each sentence: how it opens, the silence before it, how what is talked of changes there, and whether the reader sees a chapter open."""
    known = data("phases")["opens"]
    begins = {name: _pattern(tuple(cues), start=True) for name, cues in known["begins"].items()}
    turning = re.compile(rf"^(?:(?:{'|'.join(known['turning'])}) )+")
    pronoun = _pattern(tuple(known["pronoun"]), start=True)
    rows: list[dict[str, float]] = []
    for i, (s, text) in enumerate(zip(seen.sentences, seen.texts)):
        row = {f"begins: {name}": float(bool(p.match(text))) for name, p in begins.items()}
        rest, words, own = turning.sub("", text), text.split(), seen.parts[i]
        row |= {
            "any": 1.0, "question": float(s.text.strip().endswith("?")), "words": min(MOST, math.log(1 + len(words)) / 2), "short": float(len(words) <= 3),
            "so it": float(rest != text and bool(pronoun.match(rest))), "part": float(bool(own)), "step": min(1.0, seen.steps[i]),
            "part first": float(any(name.split()[-1] in rest.split()[:6] for name in own)),
        }
        gaps = [max(0.0, seen.starts[j] - seen.sentences[j - 1].end) for j in range(max(1, i - 3), i + 1)]
        row |= {
            "silence": min(MOST, math.log1p(max(0.0, (gaps or [0.0])[-1] - 0.6))), "silence lately": min(MOST, math.log1p(max(0.0, max(gaps[:-1], default=0.0) - 1.5))),
            "story turns": float(i > 0 and seen.story[i] != seen.story[i - 1]), "story ends": float(i > 0 and seen.story[i] < seen.story[i - 1]),
        }
        for seconds in WINDOWS:
            past, coming = seen.within(s.start - seconds, s.start), seen.within(s.start, s.start + seconds)
            row[f"other parts in {seconds} s"] = 1 - _likeness(_sum(seen.work, past), _sum(seen.work, coming), 0.35)
            row[f"other words in {seconds} s"] = 1 - min(1.0, 3 * _likeness(_sum(seen.words, past), _sum(seen.words, coming), 0.1))
            row[f"reader: other phase in {seconds} s"] = _apart(seen.phases[past], seen.phases[coming])
        recent = set().union(*(seen.parts[j] for j in seen.within(s.start - 60, s.start)))
        coming = set().union(*(seen.parts[j] for j in seen.within(s.start, s.start + 25)))
        busy = [sum(seen.steps[j] for j in seen.within(*span)) for span in ((s.start - 20, s.start), (s.start, s.start + 20))]
        row |= {
            "new parts": len(coming - recent) / len(coming) if coming else 0.3, "own part new": float(bool(own - recent)), "own part known": float(bool(own & recent)),
            "steps before": min(MOST, busy[0] / 2), "steps after": min(MOST, busy[1] / 2), "steps rise": math.tanh((busy[1] - busy[0]) / 2),
        }
        near = [seen.odds[j] for j in seen.within(s.start - NEAR, s.start + NEAR) if j != i]
        row |= {
            "reader: opens": seen.odds[i], "reader: opens before": seen.odds[i - 1] if i else 0.0, "reader: opens after": seen.odds[i + 1] if i + 1 < seen.n else 0.0,
            "reader: opens most": seen.odds[i] - max(near, default=0.0), "reader: turns": _apart(seen.phases[i - 1:i], seen.phases[i:i + 1]),
        }
        rows.append(row)
    return {name: np.array([row[name] for row in rows]) for name in rows[0]}


def _stems(text: str) -> list[str]:
    """The words of three letters and more, without endings."""
    return [_STEM(w) for w in re.findall(r"[a-z']+", text.lower()) if len(w) > 2]


def _bare(text: str) -> str:
    """Lower case, without marks and the noises before the first word."""
    text = re.sub(r"^(?:(?:um|uh|er|ah|oh|mm|hmm)[, ]+)+", "", text.lower().strip())
    return " ".join(re.sub(r"[,.;:!?]+", "", text).split())


@cache
def _pattern(cues: tuple[str, ...], start: bool = False) -> re.Pattern:
    words = "|".join(re.escape(c).replace(r"\*", r"[a-z]*") for c in sorted(cues, key=len, reverse=True))
    return re.compile(rf"{'^' if start else chr(92) + 'b'}(?:{words})(?![a-z'])")


def _sum(bags: list[Counter], at: range) -> Counter:
    total: Counter = Counter()
    for i in at:
        total.update(bags[i])
    return total


def _apart(past: np.ndarray, coming: np.ndarray) -> float:
    """How far the phases before (sentences × phases) are from those after, 0 to 1; 0 where one side holds nothing."""
    return float(np.abs(past.mean(0) - coming.mean(0)).sum() / 2) if len(past) and len(coming) else 0.0


def _likeness(a: Counter, b: Counter, unknown: float) -> float:
    """Cosine; `unknown` where one side holds nothing."""
    dot = sum(a[k] * b[k] for k in a.keys() & b.keys())
    size = math.sqrt(sum(v * v for v in a.values()) * sum(v * v for v in b.values()))
    return dot / size if size else unknown
