"""Where chapters begin, and each one's phase: the best segmentation of the whole episode.

Every sentence speaks for some phases (what is said, done and found in it) and every sentence opening may start a
chapter (how it opens, the silence before it, whether the work turns to other parts). A chapter's worth is the
sum of its sentences' evidence for its phase, its opening's, and how usual its length is and the phase before it;
dynamic programming finds the row of chapters that is worth most (a segmental model in the manner of
Sarawagi and Cohen 2004, with weights from common practice instead of training).
"""

import math
import re
from collections import Counter
from functools import cache
from typing import get_args

from ..reading.findings import Findings
from ..record import Chapter, Phase, Sentence
from ..trade import Trade, data
from .titles import name_chapters

PHASES: tuple[str, ...] = get_args(Phase)
BOUNDARY = 3.2          # what a chapter must be worth before it stands alone
USUAL_LENGTH = 42.0     # seconds, for an episode of ten minutes; grows with the root of the length
SPREAD = 0.5           # of the length's logarithm
LEAST_LENGTH = 10.0     # seconds: what video hosts take as a chapter
OUT_OF_PLACE = 6.0      # cost of a phase wholly outside its usual share of the episode, per chapter
WINDOW = 4              # sentences on each side when the turn of the work to other parts is weighed
CAP = 2.2               # most that one sentence can say for one phase
TURN = 2.2              # what a full turn of the work to other parts is worth
VOICE = 1.0            # weight of what sentences say for their phase against all else


def find_chapters(sentences: list[Sentence], findings: Findings, trade: Trade) -> list[Chapter]:
    """Chapters in order, the first at 0.0. Empty without sentences."""
    if not sentences:
        return []
    evidence = _evidence(sentences, findings)
    opening = _openings(sentences, findings, trade)
    spans = _best(sentences, evidence, opening)
    chapters = [
        Chapter(
            start=0.0 if first == 0 else sentences[first].start, title="", phase=phase,
            sentences=[s.id for s in sentences[first:last]], confidence=_confidence(evidence, opening, first, last, phase))
        for first, last, phase in spans
    ]
    return name_chapters(chapters, findings)


@cache
def _pattern(cues: tuple[str, ...]) -> re.Pattern:
    words = "|".join(re.escape(c).replace(r"\*", r"[a-z]*") for c in sorted(cues, key=len, reverse=True))
    return re.compile(rf"\b(?:{words})(?![a-z'])")


def _said(text: str, cues: list[str]) -> int:
    return len(set(_pattern(tuple(cues)).findall(text)))


def _evidence(sentences: list[Sentence], findings: Findings) -> list[dict[str, float]]:
    """For each sentence, how much it speaks for each phase."""
    known = data("phases")["phase"]
    index = {s.id: i for i, s in enumerate(sentences)}
    rows = [dict.fromkeys(PHASES, 0.0) for _ in sentences]
    for i, s in enumerate(sentences):
        text = s.text.lower()
        for phase, row in known.items():
            rows[i][phase] = sum(c["weight"] * min(2, _said(text, c["say"])) for c in row["cues"])
    for found, key, field in ((findings.steps, "actions", "do"), (findings.facts, "facts", "kind")):
        for item in found:
            at = [index[s] for s in item.sentences if s in index]
            for phase, row in known.items():
                weight = row.get(key, {}).get(getattr(item, field), 0.0) * item.confidence
                for i in at:
                    rows[i][phase] += weight
    for i in (index[s] for s in findings.stories if s in index):  # what is done in a story is not done on the bench
        rows[i] = {phase: (2.0 if phase == "aside" else 0.3 * worth) for phase, worth in rows[i].items()}
    for row in rows:
        for phase in row:
            row[phase] = CAP * math.tanh(row[phase] / CAP)
        mean = sum(row.values()) / len(row)
        for phase in row:
            row[phase] = VOICE * (row[phase] - mean)
    return rows


def _openings(sentences: list[Sentence], findings: Findings, trade: Trade) -> list[float]:
    """For each sentence, how much it looks like the opening of a chapter."""
    opens = data("phases")["opens"]["words"]
    bags, stories = _work(sentences, findings, trade), set(findings.stories)
    out = []
    for i, s in enumerate(sentences):
        text = re.sub(r"^(?:um|uh|er|ah|oh)[, ]+", "", s.text.lower().strip())
        text = re.sub(r"[,.;:!?]+", "", text)
        score = next((row["weight"] for row in opens if re.match(rf"(?:{'|'.join(map(re.escape, row['say']))})\b", text)), 0.0)
        if i:
            score += 1.0 * ((s.id in stories) != (sentences[i - 1].id in stories))
            silence = s.start - sentences[i - 1].end
            score += min(0.8, 0.2 * max(0.0, silence - 0.8))
            before = sum(bags[max(0, i - WINDOW):i], Counter())
            after = sum(bags[i:i + WINDOW], Counter())
            score += TURN * (1 - _cosine(before, after))
        out.append(score)
    return out


def _work(sentences: list[Sentence], findings: Findings, trade: Trade) -> list[Counter]:
    """For each sentence, what it works on: parts, and at half weight the assemblies they belong to."""
    assembly = {t.name: t.assembly for t in trade.terms}
    index = {s.id: i for i, s in enumerate(sentences)}
    bags = [Counter() for _ in sentences]
    for m in findings.mentions:
        if m.group == "part" and m.sentence in index:
            bags[index[m.sentence]][m.name] += 1.0
            if assembly.get(m.name):
                bags[index[m.sentence]]["assembly " + assembly[m.name]] += 0.7
    return bags


def _cosine(a: Counter, b: Counter) -> float:
    dot = sum(a[k] * b[k] for k in a.keys() & b.keys())
    size = math.sqrt(sum(v * v for v in a.values()) * sum(v * v for v in b.values()))
    return dot / size if size else 0.35  # nothing named on one side says little


def _best(sentences, evidence, opening) -> list[tuple[int, int, str]]:
    """The worthiest row of (first, last, phase) over all sentences."""
    n, known = len(sentences), data("phases")
    total = max(sentences[-1].end, 1.0)
    usual = USUAL_LENGTH * math.sqrt(max(1.0, total / 600))
    follows = known["follows"]
    sums = {p: [0.0] for p in PHASES}
    for row in evidence:
        for p in PHASES:
            sums[p].append(sums[p][-1] + row[p])

    def change(before: str, after: str) -> float:
        if "aside" in (before, after):
            return 0.8 if before != after else 4.0
        return follows.get(before, {}).get(after, 2.5)

    def place(p: str, middle: float) -> float:
        low, high = known["phase"][p]["when"]
        return OUT_OF_PLACE * min(1.0, max(0.0, low - middle, middle - high) / 0.15)

    # best[i][p]: the worth of the best row of chapters up to sentence i whose last is of phase p, where that one begins, the phase before
    best: list[dict[str, tuple[float, int, str | None]]] = [{} for _ in range(n + 1)]
    arrive: list[dict[str, tuple[float, str | None]]] = [{} for _ in range(n + 1)]  # the same, by the phase that comes next
    arrive[0] = dict.fromkeys(PHASES, (0.0, None))
    for last in range(1, n + 1):
        for first in range(last - 1, -1, -1):
            start = 0.0 if first == 0 else sentences[first].start
            end = sentences[last].start if last < n else total
            length = end - start
            if length > usual * 5 and last - first > 1:
                break
            if not arrive[first] or (length < LEAST_LENGTH and n > last - first):
                continue
            shape = -0.5 * (math.log(max(length, 1.0) / usual) / SPREAD) ** 2 - BOUNDARY + opening[first] * (first > 0)
            middle = (start + end) / 2 / total
            for p in PHASES:
                score, before = arrive[first][p]
                score += shape + sums[p][last] - sums[p][first] - place(p, middle)
                if p not in best[last] or score > best[last][p][0]:
                    best[last][p] = (score, first, before)
        if best[last]:
            arrive[last] = {p: max((s[0] - change(q, p), q) for q, s in best[last].items()) for p in PHASES}
    if not best[n]:  # shorter than one chapter
        return [(0, n, "introduction")]
    spans, last, phase = [], n, max(best[n], key=lambda p: best[n][p][0])
    while last:
        _, first, before = best[last][phase]
        spans.append((first, last, phase))
        last, phase = first, before
    return spans[::-1]


def _confidence(evidence, opening, first: int, last: int, phase: str) -> float:
    """How far the phase stands above the next best, and how clear the opening is, squeezed to 0..1."""
    totals = {p: sum(row[p] for row in evidence[first:last]) / (last - first) for p in PHASES}
    lead = totals[phase] - max(v for p, v in totals.items() if p != phase)
    return round(1 / (1 + math.exp(-(0.4 + 1.5 * lead + 0.3 * (opening[first] if first else 2.0)))), 2)
