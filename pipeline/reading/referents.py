"""Which nut "the nut" is: bare words of the trade get the name of the piece that the talk is about.

What is plain from the sentence comes first ("three screws in the bridge"), then the piece last named so ("the screws"),
what the parts under discussion have ("rotor on, and then the nut"), and what the word means on this kind of reel. A
bare word that nothing explains stays bare.
"""

from collections import Counter, defaultdict
from dataclasses import dataclass
from functools import cached_property

from spacy.tokens import Doc, Span

from ..trade import Term, Trade, data
from .terms import Lexicon, key, lexicon, singular

_AT = {"in", "on", "of", "through", "for", "from", "under", "inside", "holding", "hold", "holds", "into", "off", "behind", "at", "around", "to", "onto"}
_HOLDING = {"held", "holds", "secured", "fixed", "retained", "on", "down", "in", "kept"}
_DEFINITE = {"the", "this", "that", "these", "those", "its", "same", "other", "your", "his"}
_INDEFINITE = {"a", "an", "another", "some", "no", "any"}
_ALIAS = {("that", "'s", "the"), ("that", "'s", "your"), ("that", "'s", "a"), ("is", "the"), ("is", "your"), ("'s", "the"), ("are", "the"), ("that", "is", "the"), ("they", "'re", "the"), ("called", "the")}
_AFTER = {"gear", "cap", "cover", "housing"}  # besides what belongs: heads that a part can have
_SCREWED = {"screw", "bolt"}
_ASIDE = frozenset({"past", "elsewhere"})
_TOWARDS = {"towards", "toward", "by", "near", "against", "behind", "facing", "faces"}
_KIN = 30        # sentences within which an open word is taken for the piece of its sort that is named
_TOPIC = 2       # sentences for which a part stays the topic
_THRESHOLD = 0.45
_PLACES = set(data("actions")["parts"]["places"])


@dataclass(frozen=True, slots=True)
class _Named:
    """A piece named in full: where, what, and the last words that it goes by."""

    doc: int
    token: int
    group: str
    name: str
    names: tuple[str, ...]
    heads: frozenset[str]
    qty: int | None
    confidence: float
    aside: bool = False  # on another reel, or long ago
    place: bool = False  # only where something else goes: "towards the foot"
    by_size: bool = False  # a tool told by its size alone


def kind_of(docs: list[Doc], trade: Trade, title: str = "") -> str | None:
    """The kind of reel on the bench, from what the host calls it and from the parts that only some kinds have."""
    votes: Counter[str] = Counter()
    for i, text in enumerate([title, *(doc.text for doc in docs)]):
        text = text.lower().replace("-", " ")
        for kind, wordings in data("parts")["called"].items():
            for wording in wordings:
                if wording in text:
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
    _Resolver(docs, trade, kind).run()


@dataclass
class _Resolver:
    docs: list[Doc]
    trade: Trade
    kind: str | None

    @cached_property
    def lex(self) -> Lexicon:
        return lexicon(self.trade.terms)

    @cached_property
    def terms(self) -> dict[str, Term]:
        return {t.name: t for t in self.trade.terms}

    @cached_property
    def belonging(self) -> frozenset[str]:
        return frozenset(data("parts")["belonging"])

    def run(self) -> None:
        docs = self.docs
        for i, doc in enumerate(docs):
            doc.spans["terms"] = [s for s in doc.spans["terms"] if self._in_place(s, i)]
        unlisted = Counter(" ".join([*s._.mods[1:], singular(s[-1].lower_)]) for doc in docs for s in doc.spans["terms"] if s._.mods[:1] == ("?",))
        for doc in docs:
            doc.spans["terms"] = [self._own_name(s, unlisted) for s in doc.spans["terms"]]
        for doc in docs:
            doc.spans["terms"] = [self._of_this_kind(s) for s in doc.spans["terms"]]
        self.ahead = [self._as_named(i, s) for i, doc in enumerate(docs) for s in doc.spans["terms"] if not s._.bare]
        self.behind: list[_Named] = []
        for i, doc in enumerate(docs):
            spans = []
            for span in doc.spans["terms"]:
                span = self._meaning(span, i) if span._.bare else self._narrower(span, i)
                if span is None:
                    continue
                if not span._.bare:
                    self.behind.append(self._as_named(i, span))
                spans.append(span)
            doc.spans["terms"] = spans
        for i, doc in enumerate(docs):
            for span in doc.spans["terms"]:
                if span._.bare:
                    span._.kin = self._kin(span, i)

    def _kin(self, span: Span, i: int) -> tuple[str, tuple[str, ...]] | None:
        """The nearest piece of its sort that has a name: which entry of the list a small piece without one most likely is."""
        head = singular(span[-1].lower_)
        if span.doc._.context_at(span.end - 1) & _ASIDE:
            return None
        kin = [n for n in self.behind if n.group == "part" and not n.aside and n.name.split()[-1] == head and n.name != head and abs(n.doc - i) <= _KIN]
        near = min(kin, key=lambda n: abs(n.doc - i), default=None)
        return (near.name, near.names) if near else None

    def _fits(self, term: Term | None) -> bool:
        return term is None or not term.reels or self.kind is None or self.kind in term.reels

    def _in_place(self, span: Span, i: int) -> bool:
        """Does the rest of the sentence, or the kind of reel, bear out a word that is an everyday word too?"""
        sense = span._.sense
        if sense is None:
            return True
        spans = self.docs[i].spans["terms"]
        if sense == "tools":
            return any(s.label_ == "tool" and s._.sense is None and s != span for s in spans)
        if span._.kinds and self.kind not in span._.kinds:
            return False
        if sense == "company":
            before = self.docs[i - 1].spans["terms"] if i else []
            return any(s.label_ == "part" and s._.sense is None and s != span for s in (*spans, *before))
        return self._fits(self.terms.get(span.kb_id_))

    def _as_named(self, i: int, span: Span) -> _Named:
        heads = {singular(span[-1].lower_), span.kb_id_.split()[-1]}
        doc = span.doc
        aside = bool(doc._.context_at(span.end - 1) & _ASIDE)
        place = any(t.lower_ in _TOWARDS for t in doc[max(0, span.start - 2):span.start])
        return _Named(i, span.start, span.label_, span.kb_id_, span._.names, frozenset(heads), span._.qty, span._.confidence, aside, place, span._.by_size)

    def _of_this_kind(self, span: Span) -> Span:
        """A name that means one piece on one kind of reel and another on the next: the piece that this reel has."""
        if span.label_ != "part" or span._.bare or self._fits(self.terms.get(span.kb_id_)):
            return span
        own = [t for t in self.lex.namesakes.get(key(span.text), ()) if t.reels and self._fits(t)]
        return renamed(span, own[0].name, own[0].names, span._.confidence) if own else span

    def _own_name(self, span: Span, unlisted: Counter[str]) -> Span:
        """A head with telling words before it is a name: a listed one by its last words, else a new one if the words are the trade's or said twice."""
        if not span._.bare or not span._.mods:
            return span
        known, mods = span._.mods[0] != "?", [m for m in span._.mods if m != "?"]
        if all(m in self.lex.forms for m in mods):
            return span
        head = singular(span[-1].lower_)
        for first in range(len(mods)):
            term = self.lex.term(" ".join([*mods[first:], head]))
            if term:
                return renamed(span, term.name, term.names, 0.85)
        name = " ".join([*mods, head])
        if head in self.belonging and all(m in _PLACES for m in mods):
            return span  # where a small piece sits tells no piece of its own: "the top screw" is one of the screws
        if known:
            return renamed(span, name, (name,), 0.6)
        if unlisted[name] >= 2:
            return renamed(span, name, (name,), 0.5)
        return span

    def compose(self, name: str, names: tuple[str, ...], head: str) -> tuple[Term | None, str, tuple[str, ...]]:
        """The `head` that belongs to a part: the trade's own name for it, if it has one, and one made of the two."""
        for whole in (name, *names):
            term = self.lex.term(f"{whole} {head}")
            if term and term.name != name and self._fits(term):
                return term, term.name, term.names
        made = dict.fromkeys(f"{n} {head}" for n in (name, *names) if not n.endswith("s"))
        return None, f"{name} {head}", (*made, f"{name.split()[-1]} {head}")

    def _meaning(self, span: Span, i: int) -> Span | None:
        """The span with the best name for its bare head; None where the word is too common to mean a part by itself."""
        doc, head = span.doc, singular(span[-1].lower_)
        before = {t.lower_ for t in doc[max(0, span.start - 3):span.start]}
        definite, indefinite = bool(before & _DEFINITE), bool(before & _INDEFINITE)
        many = span[-1].lower_ != head and not definite and span._.qty is None
        aside = bool(doc._.context_at(span.end - 1) & _ASIDE)
        scores: dict[str, float] = defaultdict(float)
        names: dict[str, tuple[str, ...]] = {}

        def offer(name: str, its: tuple[str, ...], score: float) -> None:
            names.setdefault(name, its)
            scores[name] = max(scores[name], score)

        alias = _alias(span)
        if alias is not None:
            offer(alias.kb_id_, alias._.names, 2.5)
        for part, closeness in _attached(span):
            term, name, its = self.compose(part.kb_id_, part._.names, head)
            if term or head in self.belonging:
                offer(name, its, (2.0 if term else 1.7) * closeness)
        several, single = self.lex.term(span[-1].lower_), self.lex.term(head)
        if several and single and several != single and self._fits(several):
            offer(several.name, several.names, 1.2)  # one roller guides the line, the rollers are the clutch's
        opens = span.start == 0 or doc[span.start - 1].is_punct
        if not many or opens:
            here = [n for n in self.behind if i - n.doc <= _TOPIC]
            topic = [n for n in reversed(here) if n.group == "part" and n.name.split()[-1] not in self.belonging and not n.place]
            for named in self.behind:
                if head in named.heads and (i == named.doc or not (aside or named.aside)):
                    score = (1.1 if definite else 0.55 if indefinite else 0.9) / (1 + (i - named.doc) / 5)
                    score += 0.3 * (span._.qty is not None and span._.qty == named.qty)
                    score += 0.6 * any(n.name != named.name and (named.name.startswith(n.name) or f"{n.name} {head}" in named.names) for n in topic)
                    offer(named.name, named.names, score)
            for named in self.ahead:
                if head in named.heads and named.doc >= i and not (aside or named.aside):
                    offer(named.name, named.names, 0.6 / (1 + (named.doc - i) / 6) + 0.3 * (span._.qty is not None and span._.qty == named.qty))
            if not (aside and indefinite):
                for rank, named in enumerate(topic):
                    term, name, its = self.compose(named.name, named.names, head)
                    near = (1.0, 0.8, 0.5)[i - named.doc] * 0.9 ** rank
                    if term and (head in self.belonging or head in _AFTER):
                        offer(name, its, 1.05 * near)
                    elif head in _SCREWED and span._.qty and rank == 0:
                        offer(name, its, 0.7 * near)
            plain = data("parts")["plain"].get(self.kind or "", {}).get(head)
            if plain and not indefinite and not aside:
                offer(plain, self.terms[plain].names, 0.6)
            elif span.kb_id_ != head and self._fits(self.terms.get(span.kb_id_)):
                offer(span.kb_id_, span._.names, 0.5)
        if scores and max(scores.values()) >= _THRESHOLD:
            best = max(scores, key=scores.get)
            group = next((n.group for n in (*self.behind, *self.ahead) if n.name == best), "part")
            return renamed(span, best, names[best], min(0.85, 0.4 + 0.2 * scores[best]), group)
        if head in data("parts")["loose"] or span._.mods[:1] == ("?",) and head not in self.belonging:
            return None
        return span

    def _narrower(self, span: Span, i: int) -> Span:
        """A general name stands for the one piece of its kind that the talk is about: "the wrench", "the side plate", "the oil"."""
        name, doc = span.kb_id_, span.doc
        if span._.by_size:
            return self._of_size(span)
        before = {t.lower_ for t in doc[max(0, span.start - 3):span.start]}
        contexts = doc._.context_at(span.end - 1)
        if span.label_ == "part" and (contexts & {"past", "elsewhere"} or before & _INDEFINITE):
            return span
        if span.label_ == "supply" and name in ("oil", "grease"):
            return self._lubricant(span, i, contexts)
        term = self.terms.get(name)
        if term is None:
            return span
        if span.label_ == "tool" and not term.sized:
            return span
        narrower = [n for n in (*self.behind, *self.ahead) if n.group == span.label_ and n.name != name and (
            n.name.endswith(f" {name}") or span.label_ == "tool" and name == "screwdriver" and n.name.endswith("screwdriver"))]
        narrower = [n for n in narrower if not n.aside]
        kinds = {n.name for n in narrower}
        if not kinds:
            return span
        reach = 60 if span.label_ == "tool" else 10
        near = min(narrower, key=lambda n: abs(i - n.doc) + (4 if n.doc > i else 0))
        if len(kinds) == 1 or abs(i - near.doc) <= reach and not (span[-1].lower_ != singular(span[-1].lower_) and not before & _DEFINITE):
            return renamed(span, near.name, near.names, min(span._.confidence, 0.8))
        return span

    def _of_size(self, span: Span) -> Span:
        """"Ten mil on the nut": the tool of that size that the host names in full, else a wrench."""
        size = span.kb_id_.removesuffix(span.kb_id_.split()[-1])
        named = [n for n in (*self.behind, *self.ahead) if n.group == "tool" and n.name.startswith(size) and n.name in span._.names and not n.by_size]
        return renamed(span, named[-1].name, named[-1].names, span._.confidence) if named else span

    def _lubricant(self, span: Span, i: int, contexts: frozenset[str]) -> Span:
        if span.kb_id_ == "oil":
            kin, reach = [n for n in (*self.behind, *self.ahead) if n.name in data("supplies")["oils"]], 400
        elif "negated" in contexts:
            return span
        else:
            kin, reach = [n for n in self.behind if n.group == "supply" and n.name.endswith(" grease")], 2
        if not kin:
            return span
        near = min(kin, key=lambda n: abs(i - n.doc))
        return renamed(span, near.name, near.names, 0.75) if abs(i - near.doc) <= reach else span


def renamed(span: Span, name: str, names: tuple[str, ...], confidence: float, group: str | None = None) -> Span:
    new = Span(span.doc, span.start, span.end, label=group or span.label_, kb_id=name)
    new._.names, new._.confidence, new._.qty, new._.bare, new._.by_size = names, confidence, span._.qty, False, False
    return new


def _parts_of(span: Span) -> list[Span]:
    return [s for s in span.doc.spans["terms"] if s.label_ == "part" and not s._.bare and (s.start, s.end) != (span.start, span.end)]


def _alias(span: Span) -> Span | None:
    """The part that the wording says the bare word is: "this black ring, that's the one-way clutch"."""
    doc = span.doc
    for part in _parts_of(span):
        first, second = (span, part) if span.start < part.start else (part, span)
        between = tuple(t.lower_ for t in doc[first.end:second.start] if not t.is_punct)
        if len(between) <= 4 and any(between[:len(a)] == a for a in _ALIAS):
            return part
    return None


def _attached(span: Span) -> list[tuple[Span, float]]:
    """The parts that the wording ties a bare word to: "screw through the bail arm", "the side cover, four screws", "held by two clips"."""
    doc, found = span.doc, []
    for part in _parts_of(span):
        if part.start >= span.end:
            between = [t.lower_ for t in doc[span.end:part.start]]
            if len(between) <= 6 and any(w in _AT for w in between[:3]) and not any(w in (",", ".", ";", "and", "then", "one") for w in between):
                found.append((part, 1.0 - 0.03 * len(between)))
        elif part.end <= span.start:
            between = [t.lower_ for t in doc[part.end:span.start]]
            if len(between) <= 7 and any(w in ("by", "with") for w in between) and any(w in _HOLDING for w in between):
                found.append((part, 0.95))
            elif 1 <= len(between) <= 3 and between[0] in (",", "has", "with", "'s", "and") and span._.qty:
                found.append((part, 0.7))
            elif between in (["and", "its"], ["with", "its"]):
                found.append((part, 0.85))
    return found
