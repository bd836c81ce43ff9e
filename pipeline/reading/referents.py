"""Which nut "the nut" is: bare words of the trade get the name of the piece that the talk is about.

What is plain from the sentence comes first ("three screws in the bridge"), then the piece last named so ("the screws"),
then what the parts under discussion have ("rotor on, and then the nut"). A bare word that nothing explains stays bare.
"""

from collections import Counter, defaultdict
from dataclasses import dataclass
from math import exp

from spacy.tokens import Doc, Span

from ..trade import Term, Trade
from .terms import Lexicon, lexicon, singular

_FASTENERS = {"screw", "nut", "bolt", "washer", "spring", "shim", "pin", "clip", "bearing", "bushing", "bush", "o-ring", "circlip", "seal", "gasket", "stud", "e-clip", "retainer"}
_AT = {"in", "on", "of", "through", "for", "from", "under", "inside", "holding", "hold", "holds", "into", "off", "behind", "at", "around", "to", "onto"}
_HELD_BY = {"by", "with"}
_DEFINITE = {"the", "this", "that", "these", "those", "its", "same", "both", "other", "your", "his", "all"}
_TOPIC = 2       # sentences back that a part stays the topic
_THRESHOLD = 0.5


@dataclass(frozen=True, slots=True)
class _Named:
    """A piece named in full: where, what, and the last words that it goes by."""

    doc: int
    token: int
    name: str
    names: tuple[str, ...]
    heads: frozenset[str]
    qty: int | None = None


def kind_of(docs: list[Doc], trade: Trade, title: str = "") -> str | None:
    """The kind of reel on the bench, from what the host calls it and from the parts that only some kinds have."""
    votes: Counter[str] = Counter()
    spoken = {"spinning reel": "spinning", "fly reel": "fly", "lever drag": "lever drag", "star drag": "conventional star drag", "baitcaster": "low-profile baitcaster",
              "low profile": "low-profile baitcaster", "bait caster": "low-profile baitcaster", "centrepin": "centrepin", "center pin": "centrepin", "centre pin": "centrepin",
              "spincast": "spincast", "spin cast": "spincast", "closed face": "spincast", "electric reel": "electric", "round reel": "round baitcaster",
              "trotting reel": "centrepin", "conventional reel": "conventional star drag", "multiplier": "round baitcaster"}
    for i, text in enumerate([title, *(doc.text for doc in docs)]):
        for wording, kind in spoken.items():
            if wording in text.lower().replace("-", " "):
                votes[kind] += 6 if i < 25 else 1
    terms = {t.name: t for t in trade.terms}
    for doc in docs:
        for span in doc.spans["terms"]:
            term = terms.get(span.kb_id_)
            if term and term.reels and span._.sense is None and not span._.bare:
                for kind in term.reels:
                    votes[kind] += 1 / len(term.reels)
    return votes.most_common(1)[0][0] if votes else None


def resolve(docs: list[Doc], trade: Trade, kind: str | None) -> None:
    """Give each bare span in doc.spans["terms"] the name of the piece meant, and drop words that are not meant as parts here."""
    lex = lexicon(trade.terms)
    terms = {t.name: t for t in trade.terms}
    for doc in docs:
        doc.spans["terms"] = [s for s in doc.spans["terms"] if _in_place(s, doc, terms, kind)]
    unheard = Counter(" ".join([*s._.mods[1:], singular(s[-1].lower_)]) for doc in docs for s in doc.spans["terms"] if s._.bare and s._.mods[:1] == ("?",))
    for doc in docs:
        doc.spans["terms"] = [_own_name(s, lex, unheard) for s in doc.spans["terms"]]
    ahead = [named for i, doc in enumerate(docs) for span in doc.spans["terms"] if (named := _as_named(i, span))]
    behind: list[_Named] = []
    for i, doc in enumerate(docs):
        spans = []
        for span in doc.spans["terms"]:
            if span._.bare:
                span = _meaning(span, i, docs, behind, ahead, lex)
            named = _as_named(i, span)
            if named:
                behind.append(named)
            spans.append(span)
        doc.spans["terms"] = spans


def _in_place(span: Span, doc: Doc, terms: dict[str, Term], kind: str | None) -> bool:
    if span._.sense == "company":
        return any(s.label_ == "part" and s._.sense is None and s != span for s in doc.spans["terms"])
    if span._.sense == "reel":
        term = terms.get(span.kb_id_)
        return not term or not term.reels or kind in term.reels
    return True


def _as_named(i: int, span: Span) -> _Named | None:
    if span.label_ != "part" or span._.bare:
        return None
    said = singular(span[-1].lower_)
    return _Named(i, span.start, span.kb_id_, span._.names, frozenset({said, span.kb_id_.split()[-1]}), span._.qty)


def renamed(span: Span, name: str, names: tuple[str, ...], confidence: float) -> Span:
    new = Span(span.doc, span.start, span.end, label=span.label_, kb_id=name)
    new._.names, new._.confidence, new._.qty = names, confidence, span._.qty
    return new


def _own_name(span: Span, lex: Lexicon, unheard: Counter[str]) -> Span:
    """A head with telling words before it is a name: a listed one by its last words, else a new one if the words are the trade's or said twice."""
    if not span._.bare or not span._.mods:
        return span
    known, mods = span._.mods[0] != "?", [m for m in span._.mods if m != "?"]
    head = singular(span[-1].lower_)
    for first in range(len(mods)):
        term = lex.term(" ".join([*mods[first:], head]))
        if term:
            return renamed(span, term.name, term.names, 0.85)
    name = " ".join([*mods, head])
    if known and _tells(mods, head):
        return renamed(span, name, (name,), 0.6)
    if not known and unheard[name] >= 2:
        return renamed(span, name, (name,), 0.5)
    return span


_PLACES = {"left", "right", "upper", "lower", "top", "bottom", "front", "rear", "back", "inner", "outer", "inside", "outside", "flat", "metal", "main", "same"}


def _tells(mods: list[str], head: str) -> bool:
    """Where a small piece sits tells two of a kind apart, not a piece of its own: "the top screw" is one of the screws."""
    return not all(m in _PLACES for m in mods) or head not in _FASTENERS


def compose(name: str, names: tuple[str, ...], head: str, lex: Lexicon) -> tuple[Term | None, str, tuple[str, ...]]:
    """The `head` that belongs to a part: the trade's own name for it, if it has one, and one made of the two."""
    for whole in (name, *names):
        term = lex.term(f"{whole} {head}")
        if term and term.name != name:
            return term, term.name, term.names
    made = dict.fromkeys(f"{n} {head}" for n in (name, *names) if not n.endswith("s"))
    last = name.split()[-1]
    return None, f"{name} {head}", (*made, f"{last} {head}")


def _meaning(span: Span, i: int, docs: list[Doc], behind: list[_Named], ahead: list[_Named], lex: Lexicon) -> Span:
    doc, head = span.doc, singular(span[-1].lower_)
    definite = any(t.lower_ in _DEFINITE for t in doc[max(0, span.start - 3):span.start])
    indefinite = any(t.lower_ in ("a", "an", "another") for t in doc[max(0, span.start - 3):span.start])
    scores: dict[str, float] = defaultdict(float)
    names: dict[str, tuple[str, ...]] = {}

    def offer(name: str, its: tuple[str, ...], score: float) -> None:
        names.setdefault(name, its)
        scores[name] = max(scores[name], score)

    for part, closeness in _attached(span):
        term, name, its = compose(part.kb_id_, part._.names, head, lex)
        if term or head in _FASTENERS:
            offer(name, its, (2.6 if term else 2.2) * closeness)
    for named in behind:
        if head in named.heads:
            away = i - named.doc
            offer(named.name, named.names, (1.9 if definite else 1.0 if indefinite else 1.5) * exp(-away / 8))
    for named in ahead:
        if named.doc >= i and (named.doc > i or named.token > span.start) and head in named.heads:
            offer(named.name, named.names, 0.9 * exp(-(named.doc - i) / 12))
    around = [n for n in behind if i - n.doc <= _TOPIC] + [n for n in ahead if n.doc == i and n.token > span.start]
    for rank, named in enumerate(reversed(around)):
        if named.name.split()[-1] in _FASTENERS:
            continue
        term, name, its = compose(named.name, named.names, head, lex)
        near = (1.0, 0.8, 0.6)[min(abs(i - named.doc), 2)] * (0.95 ** rank)
        if term:
            offer(name, its, 1.5 * near)
        elif head in _FASTENERS and span._.qty and rank == 0:
            offer(name, its, 0.8 * near)
    if not scores or max(scores.values()) < _THRESHOLD:
        return span
    best = max(scores, key=scores.get)
    return renamed(span, best, names[best], min(0.85, 0.4 + 0.15 * scores[best]))


def _attached(span: Span) -> list[tuple[Span, float]]:
    """The parts that the wording ties a bare word to: "screw through the bail arm", "the side cover, four screws", "held by two clips"."""
    doc, found = span.doc, []
    for part in doc.spans["terms"]:
        if part.label_ != "part" or part._.bare or part == span:
            continue
        if part.start >= span.end:
            between = [t.lower_ for t in doc[span.end:part.start]]
            if len(between) <= 7 and any(w in _AT for w in between) and not any(w in (",", ".", ";", "and", "then") for w in between):
                found.append((part, 1.0 - 0.03 * len(between)))
        elif part.end <= span.start:
            between = [t.lower_ for t in doc[part.end:span.start]]
            if len(between) <= 7 and any(w in _HELD_BY for w in between) and any(w in ("held", "holds", "secured", "fixed", "retained", "on", "down", "in") for w in between):
                found.append((part, 0.95))
            elif 1 <= len(between) <= 3 and between[0] in (",", "has", "with", "'s", "and") and span._.qty:
                found.append((part, 0.8))
            elif between in (["and", "its"], ["with", "its"], ["and", "the"]) and singular(span[-1].lower_) in _FASTENERS:
                found.append((part, 0.85))
    return found
