"""Parts, tools and supplies named in a sentence."""

from functools import lru_cache

from spacy.matcher import PhraseMatcher
from spacy.tokens import Doc, Span
from spacy.util import filter_spans

from ..trade import Trade
from .findings import Mention


@lru_cache(maxsize=4)
def _matcher(vocab, terms):
    from spacy.lang.en import English

    matcher = PhraseMatcher(vocab, attr="LOWER")
    make = English(vocab=vocab).make_doc
    for i, term in enumerate(terms):
        for name in term.names:
            matcher.add(str(i), [make(name), make(name + "s")])
    return matcher


def mark_terms(doc: Doc, trade: Trade) -> None:
    """Leave the longest terms in doc.spans["terms"]; a span's label is its group, its kb_id the plain name."""
    found = [
        Span(doc, start, end, label=trade.terms[int(doc.vocab.strings[key])].group, kb_id=trade.terms[int(doc.vocab.strings[key])].name)
        for key, start, end in _matcher(doc.vocab, trade.terms)(doc)
    ]
    doc.spans["terms"] = filter_spans(found)


def find_mentions(talk) -> list[Mention]:
    return [
        Mention(group=span.label_, name=span.kb_id_, surface=span.text, sentence=s.id, start=s.start, end=s.end, confidence=0.8)
        for s, doc in zip(talk.sentences, talk.docs) for span in doc.spans["terms"]
    ]
