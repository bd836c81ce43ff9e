"""Caption files to words: a caption file can take the place of hearing."""

from pathlib import Path

from ..errors import BenchError
from .words import Heard, Word


class CaptionError(BenchError):
    """A caption file can't be used."""


def read_captions(path: Path) -> Heard:
    """Read a caption file; a word's time is its share, by letters, of its cue's time."""
    import pysubs2

    words, breaks = [], []
    for event in pysubs2.load(str(path)):
        texts = event.plaintext.split()
        letters = sum(map(len, texts))
        at, span = event.start / 1000, (event.end - event.start) / 1000
        if texts:
            breaks.append(len(words))
        for text in texts:
            end = at + span * len(text) / letters
            words.append(Word(text=text, start=round(at, 3), end=round(end, 3)))
            at = end
    return Heard(words=words, breaks=breaks, duration=words[-1].end if words else 0.0, source="captions")
