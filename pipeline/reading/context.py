"""How a wording stands to the bench: negated, hypothetical, past, about another reel, or asked.

The method is ConText (Harkema, Dowling, Thornblade and Chapman 2009, after Chapman's NegEx, 2001): cue phrases open a
scope, which ends at a stop phrase or with the clause. Here a story told at the bench also runs on from sentence to
sentence until the host comes back from it. The cues are data: pipeline/trade/context.toml.
"""

from functools import lru_cache
from typing import Literal

from spacy.language import Language
from spacy.matcher import PhraseMatcher
from spacy.tokens import Doc, Token

from ..trade import data

Context = Literal["negated", "hypothetical", "past", "elsewhere", "question"]
_NONE: frozenset[str] = frozenset()
_QUESTION_HEADS = {"what", "why", "how", "who", "where", "when", "which", "does", "do", "did", "is", "are", "can", "could", "should", "will"}
STORY_LENGTH = 6  # sentences: no aside at the bench is followed further than this

if not Doc.has_extension("contexts"):
    Doc.set_extension("contexts", default=None)                       # list[frozenset[Context]], one a token
    Doc.set_extension("context_at", method=lambda doc, i: (doc._.contexts or [_NONE] * len(doc))[i])
    Doc.set_extension("context", getter=lambda doc: doc._.context_at(_root(doc)) if len(doc) else _NONE)
    Token.set_extension("context", getter=lambda token: token.doc._.context_at(token.i))


def _root(doc: Doc) -> int:
    return next((t.i for t in doc if t.dep_ == "ROOT"), 0)


@lru_cache(maxsize=4)
def _matcher(english: Language) -> PhraseMatcher:
    rules, matcher = data("context"), PhraseMatcher(english.vocab, attr="NORM")
    for number, cue in enumerate(rules["cue"]):
        matcher.add(f"cue {number}", list(map(english.make_doc, cue["phrases"])))
    for kind in ("pseudo", "stop"):
        matcher.add(kind, list(map(english.make_doc, rules[kind]["phrases"])))
    matcher.add("back", list(map(english.make_doc, rules["story"]["back"])))
    return matcher


def mark_context(docs: list[Doc], english: Language) -> None:
    """Leave in every Doc `doc._.context_at(i)`, `token._.context` and, for its main verb, `doc._.context`: frozensets of Context."""
    rules, matcher = data("context"), _matcher(english)
    story: set[str] = set()
    told = 0
    for doc in docs:
        marks: list[set[str]] = [set() for _ in doc]
        found = {kind: [] for kind in ("cue", "pseudo", "stop", "back")}
        for key, start, end in matcher(doc):
            kind, _, number = doc.vocab.strings[key].partition(" ")
            found[kind].append(doc[start:end] if kind != "cue" else (doc[start:end], rules["cue"][int(number)]))
        hidden = {t.i for span in found["pseudo"] for t in span}
        stops = {span.start for span in found["stop"]}
        for span, cue in found["cue"]:
            if span.start in hidden or _is_interjection(span):
                continue
            reach = range(len(doc)) if cue["reach"] == "sentence" else range(span.start, _scope_end(doc, span.end, stops))
            for i in reach:
                marks[i].add(cue["context"])
        if doc.text.rstrip().endswith("?") or (len(doc) and doc[0].lower_ in _QUESTION_HEADS and doc[0].tag_ in ("WP", "WRB", "WDT", "VBZ", "VBD", "MD")):
            for mark in marks:
                mark.add("question")
        came_back = any(span.start <= 2 for span in found["back"])
        opened = _opens_story(doc, rules["story"]["people"])
        if opened:
            story, told = {"past", "elsewhere"}, 0
        elif story and (came_back or told >= STORY_LENGTH or not _goes_on(doc)):
            story = set()
        if story:
            told += 1
            for mark in marks:
                mark |= story
        doc._.contexts = [frozenset(mark) if mark else _NONE for mark in marks]


def _is_interjection(span) -> bool:
    """"No, hang on, three" takes back what was said; it denies nothing that follows."""
    doc, after = span.doc, span.end
    return span.text.lower() == "no" and (after >= len(doc) or doc[after].is_punct or doc[after].dep_ == "intj")


def _scope_end(doc: Doc, start: int, stops: set[int]) -> int:
    """The first token after `start` that is outside the clause of a cue that ends there."""
    for token in doc[start:]:
        if token.i in stops and token.i > start:
            return token.i
        if token.text in ".;:?!" or token.text.startswith("--"):
            return token.i
        if token.text == "," or token.lower_ in ("and", "or"):
            ahead = doc[token.i + 1:token.i + 4]
            words = [t for t in ahead if not t.is_punct]
            if words and (words[0].tag_ == "PRP" or any(t.dep_ in ("nsubj", "nsubjpass", "expl") for t in words)):
                return token.i
            if token.text == "," and words and words[0].pos_ in ("VERB", "AUX") and words[0].tag_ in ("VB", "VBP"):
                return token.i
    return len(doc)


def _opens_story(doc: Doc, people: list[str]) -> bool:
    """Somebody of the host's did something once, or a reel of his comes up: "my dad had", "my brother's old reel"."""
    for token in doc:
        if token.lower_ in people and token.i > 0 and any(t.tag_ == "PRP$" or t.lower_ in ("a", "this", "that", "one") for t in doc[max(0, token.i - 3):token.i]):
            after = doc[token.i + 1:token.i + 6]
            if any(t.tag_ == "VBD" and t.lower_ not in ("is", "'s") for t in after):
                return True
            if any(t.tag_ == "POS" or t.lower_ == "'s" for t in after[:1]) and any(t.lower_ in ("reel", "old") for t in after):
                return True
    return False


def _goes_on(doc: Doc) -> bool:
    """A story goes on in the past tense or in what "he" or "she" did."""
    verbs = [t for t in doc if t.pos_ in ("VERB", "AUX")]
    if any(t.lower_ in ("he", "she", "they", "him", "her") and t.dep_ in ("nsubj", "dobj", "pobj", "nsubjpass") for t in doc):
        return any(t.tag_ in ("VBD", "VBN") for t in verbs) or not verbs
    return bool(verbs) and all(t.tag_ in ("VBD", "VBN", "VBG", "VB", "TO") for t in verbs) and any(t.tag_ == "VBD" for t in verbs)
