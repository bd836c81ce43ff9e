"""Facts: what the talk says about the reel beside the steps. Cues say which kind, numbers give the values."""

import re
from collections import Counter, defaultdict
from dataclasses import dataclass

from ..record import Fact, FactKind, Sentence
from ..trade.numbers import Number, same_unit
from .cues import Marked, find_cues
from .reader import Reading
from .signs import KINDS
from .statements import statement
from .talk import Talk
from .values import offered

ENOUGH = 0.5      # below this a fact is not worth the host's eye
DENIED = 0.12     # a cue that the reader gives less than this is not believed,
PLAIN, SURELY_DENIED = 0.8, 0.02  # unless the wording alone is as plain as this and the reader not as sure as that
SEEN = 0.35       # a fact that no cue found needs this chance
OFFERED = 0.5     # what the reader's seeing a measure says for a value beside the words around it
ONE_BREATH = 5.0  # seconds: cues of one kind closer than this say one thing

_MEASURES = {"length", "weight", "ratio", "torque", "volume", "electric", "speed"}


@dataclass
class _Found:
    kind: FactKind
    sentence: int
    start: int
    end: int
    sure: float
    value: str | None = None


def find_facts(talk: Talk) -> list[Fact]:
    """Facts of all twelve kinds, in order of time."""
    found: list[_Found] = []
    unit = None  # the last measure in thousandths or millimetres, and its sentence: a bare number soon after is in the same
    for i, (sentence, doc) in enumerate(zip(talk.sentences, talk.docs)):
        terms = [(t.start_char, t.end_char, t.label_) for t in doc.spans["terms"]]
        if unit and i - unit[0] > 3:
            unit = None
        numbers, unit = _with_units(sentence.text, i, talk.numbers[i], unit)
        hits = [_Found(h.kind, i, h.start, h.end, h.sure) for h in find_cues(Marked.of(sentence.text, terms, numbers))]
        for f in hits + _values(i, numbers):
            f.sure *= _standing(doc, f)
            found.append(f)
    _dash_alike(found)
    return [_fact(talk, f) for f in _merge(found, talk) if f.sure >= ENOUGH]


def weighed(facts: list[Fact], reading: Reading, talk: Talk) -> list[Fact]:
    """The facts that the cues found and the reader does not deny, with those that only the reader sees."""
    at = {s.id: n for n, s in enumerate(talk.sentences)}
    out = []
    for fact in facts:
        n, kind = at[fact.sentences[0]], KINDS.index(fact.kind)
        seen = float(reading.kinds[max(0, n - 1):n + 2, kind].max())
        if seen >= (DENIED if fact.confidence < PLAIN else SURELY_DENIED) or fact.value or fact.kind in {"obsolete", "interchange"}:
            out.append(fact if fact.value else fact.model_copy(update={"confidence": round(min(0.97, max(ENOUGH, 0.5 * fact.confidence + 0.5 * seen)), 2)}))
    for kind, name in enumerate(KINDS):
        if name == "part_number":
            continue
        for n in sorted(range(len(talk.sentences)), key=lambda n: -reading.kinds[n, kind]):
            seen, sentence = float(reading.kinds[n, kind]), talk.sentences[n]
            if seen < SEEN:
                break
            if not any(f.kind == name and abs(f.start - sentence.start) < ONE_BREATH + 1 for f in out):
                found = _Found(name, n, 0, len(sentence.text), seen)
                out.append(_fact(talk, found))
    return sorted(_with_offers(out, reading, talk), key=lambda f: (f.start, f.kind))


def _with_offers(facts: list[Fact], reading: Reading, talk: Talk) -> list[Fact]:
    """The facts, measures with values whose unit goes without saying where the reader sees a measure told."""
    at, measure = {s.id: n for n, s in enumerate(talk.sentences)}, KINDS.index("measure")
    by_sentence = defaultdict(list)
    for offer in offered([s.text for s in talk.sentences], talk.numbers):
        by_sentence[offer.sentence].append(offer)
    told = {(at[f.sentences[0]], f.value) for f in facts if f.value}
    empty = {kind: {at[f.sentences[0]]: f for f in facts if f.kind == kind and not f.value} for kind in ("measure", "setting")}
    out = list(facts)
    for n, offers in by_sentence.items():
        for offer in sorted(offers, key=lambda o: (-o.sure, o.start)):
            sure = min(0.9, float(reading.kinds[n, measure]) * (OFFERED + offer.sure))
            if (n, offer.value) in told:
                continue
            if n in empty["measure"]:
                out.remove(empty["measure"].pop(n))
                sure = max(sure, ENOUGH)
            if sure >= ENOUGH:
                out.append(_fact(talk, _Found("measure", n, offer.start, offer.end, sure, offer.value)))
            elif n in empty["setting"]:
                setting = empty["setting"].pop(n)
                out[out.index(setting)] = setting.model_copy(update={"value": offer.value})
            else:
                continue
            told.add((n, offer.value))
    return out


def _dash_alike(found: list[_Found]) -> None:
    """A part number heard without its dash takes the shape of the others: "31204" among "31-118" and "31-209" is "31-204"."""
    shapes = Counter(tuple(map(len, f.value.split("-"))) for f in found if f.kind == "part_number" and f.value.count("-") == 1)
    for f in found:
        if f.kind == "part_number" and f.value.isdigit():
            shape = next((s for s, _ in shapes.most_common() if sum(s) == len(f.value)), None)
            if shape:
                f.value = f"{f.value[:shape[0]]}-{f.value[shape[0]:]}"


_BARE = re.compile(r"(?:was|is|are|'s|'re|that|at|to|what|be|old|new|reads?|says|from|about|only|now)[,:]?\s*$", re.I)
_BARE_ENDS = re.compile(r"\s*(?:[,.;?!]|$|(?:gone|left|over|under|thick|worn|new|old|wear|off|short|when|and|makes|down)\b)", re.I)


def _with_units(text: str, i: int, numbers: list[Number], unit: tuple[int, Number] | None) -> tuple[list[Number], tuple[int, Number] | None]:
    """Bare numbers with the unit of the measure before them: after "forty four thou", "new was sixty" is sixty thou."""
    out = []
    for n in numbers:
        if n.kind == "weight" or (n.kind == "length" and n.value.startswith("0.") and n.value.endswith((" in", " mm"))):
            unit = i, n
        elif unit and unit[1].kind == "weight":
            if n.kind == "count" and n.amount and n.amount > 1 and _AT_DRAG.match(text[n.end:]):
                n = same_unit(unit[1], n)
        elif unit and n.kind in ("count", "fraction") and n.amount is not None and _BARE.search(text[:n.start]) and _BARE_ENDS.match(text[n.end:]):
            thou, decimal = unit[1].value.endswith(" in"), n.value.startswith("0.")
            if (thou and n.kind == "count" and n.amount > 3) or (not thou and decimal):
                n = same_unit(unit[1], n)
        out.append(n)
    return out, unit


_AT_DRAG = re.compile(r"\s*,?\s*(?:at|on|in) (?:full|strike|max|the (?:scale|stop|top)|sunset|low|high|free)", re.I)
_ASIDE = {"past", "elsewhere"}


def _standing(doc, f: _Found) -> float:
    """How much a wording counts where it stands: little in a story about another reel, but its moral ("so never …") is meant."""
    span = doc.char_span(f.start, f.end, alignment_mode="expand")
    context = doc._.context_at(span.start) if span is not None else frozenset()
    if _ASIDE <= context and f.kind not in ("caution", "interchange", "dating", "part_number"):
        return 0.3
    if "hypothetical" in context and f.kind == "condition":
        return 0.5
    return 1.0


def _values(i: int, numbers: list[Number]) -> list[_Found]:
    return [
        _Found("part_number" if n.kind == "part_number" else "measure", i, n.start, n.end, n.confidence, n.value)
        for n in numbers if n.kind == "part_number" or n.kind in _MEASURES
    ]


def _time(sentence: Sentence, at: int) -> float:
    """When the character at offset `at` was said, by its share of the sentence."""
    return sentence.start + (sentence.end - sentence.start) * min(1.0, at / max(1, len(sentence.text)))


def _merge(found: list[_Found], talk: Talk) -> list[_Found]:
    """One fact a kind and breath: cues that stand together make each other surer."""
    by_kind = defaultdict(list)
    for f in found:
        by_kind[f.kind].append(f)
    out = []
    for kind, group in by_kind.items():
        group.sort(key=lambda f: (f.sentence, f.start))
        kept: list[_Found] = []
        for f in group:
            last = kept[-1] if kept else None
            if last and not f.value and _time(talk.sentences[f.sentence], f.start) - _time(talk.sentences[last.sentence], last.start) < ONE_BREATH:
                overlap = f.sentence == last.sentence and f.start < last.end
                last.sure = max(last.sure, f.sure) if overlap else 1 - (1 - last.sure) * (1 - f.sure)
                if f.sentence == last.sentence:
                    last.end = max(last.end, f.end)
            elif last and f.value and f.value == last.value and f.sentence - last.sentence <= 1:
                continue
            else:
                kept.append(f)
        out += kept
    return sorted(out, key=lambda f: (f.sentence, f.start))


def _fact(talk: Talk, f: _Found) -> Fact:
    sentence = talk.sentences[f.sentence]
    text, first, last = statement(sentence.text, f.start, f.end)
    return Fact(
        start=round(_time(sentence, first), 2), end=round(_time(sentence, last), 2), kind=f.kind, part=_part(talk, f), text=text,
        value=f.value, sentences=[sentence.id], confidence=round(min(f.sure, 0.97), 2))


def _part(talk: Talk, f: _Found) -> str | None:
    """The part that the fact is about: the nearest before it in its sentence, else after it, else the last one of the sentence before."""
    parts = [t for t in talk.docs[f.sentence].spans["terms"] if t.label_ == "part"]
    if parts:
        inside = [t for t in parts if t.start_char < f.end]
        return (inside[-1] if inside else parts[0]).kb_id_
    if f.sentence:
        before = [t for t in talk.docs[f.sentence - 1].spans["terms"] if t.label_ == "part"]
        return before[-1].kb_id_ if before else None
    return None
