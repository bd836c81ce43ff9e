"""Mending: words as heard to sentences, trade terms put right."""

from pydantic import BaseModel

from ..hearing.words import Heard, Word
from ..record import Sentence
from ..trade import Trade
from .sentences import sentence_spans


class Mended(BaseModel):
    """Sentences for reading, and the words as mended with their times, for captions. `spans` are [first, last) word indices, one a sentence."""

    sentences: list[Sentence]
    words: list[Word]
    spans: list[tuple[int, int]]


def mend(heard: Heard, trade: Trade, title: str = "") -> Mended:
    sentences, spans = [], sentence_spans(heard)
    for number, (first, last) in enumerate(spans, 1):
        text = " ".join(w.text for w in heard.words[first:last])
        sentences.append(Sentence(
            id=f"s{number}", start=heard.words[first].start, end=heard.words[last - 1].end, text=text, heard=text))
    return Mended(sentences=sentences, words=heard.words, spans=spans)
