"""The talk as reading sees it: the sentences with their Docs, in order."""

from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate

from spacy.language import Language
from spacy.tokens import Doc

from ..record import Sentence
from ..trade import Trade
from ..trade.numbers import Number, find_numbers
from .context import mark_context
from .referents import kind_of, resolve
from .terms import mark_terms


WORDS = 16   # of a line of talk, about: hearings break the same talk into many short sentences or few long ones


@dataclass(frozen=True)
class Talk:
    """`docs[i]` is the parsed `sentences[i]`; components have left their findings in `doc.spans` and extensions.

    `doc.spans["terms"]` holds the parts, tools and supplies (label: the group, kb_id: the plain name);
    `doc._.context_at(token_index)` says how a word stands to the bench (see context.py).
    """

    sentences: list[Sentence]
    docs: list[Doc]
    trade: Trade
    title: str
    kind: str | None = None  # the kind of reel on the bench, as parts.toml names kinds

    @cached_property
    def _lines(self) -> list[float]:
        return [n / WORDS for n in accumulate((len(d.text.split()) for d in self.docs), initial=0)]

    def back(self, at: int, to: int) -> float:
        """How far sentence `to` lies before sentence `at`, in lines of talk: words between their beginnings, by sixteen."""
        return self._lines[at] - self._lines[to]

    @cached_property
    def numbers(self) -> list[list[Number]]:
        """The numbers of each sentence but those that are part of a name: the "one" of "one way clutch"."""
        return [[n for n in find_numbers(s.text) if not _inside(n, [(t.start_char, t.end_char) for t in doc.spans["terms"]])] for s, doc in zip(self.sentences, self.docs)]

    @classmethod
    def of(cls, sentences: list[Sentence], english: Language, trade: Trade, title: str) -> "Talk":
        docs = list(english.pipe((s.text for s in sentences), batch_size=64))
        for doc in docs:
            mark_terms(doc, trade)
        mark_context(docs, english)
        kind = kind_of(docs, trade, title)
        resolve(docs, trade, kind)
        return cls(sentences, docs, trade, title, kind)


def _inside(number: Number, terms: list[tuple[int, int]]) -> bool:
    return number.kind in ("count", "year", "fraction") and any(a <= number.start and number.end <= b for a, b in terms)
