"""What hearing gives: words with their times."""

from typing import Literal

from pydantic import BaseModel


class Word(BaseModel):
    """One word as heard, its punctuation with it, no space around it. Times in seconds."""

    text: str
    start: float
    end: float
    probability: float | None = None  # the speech model's own; None where captions took the place of hearing


class Heard(BaseModel):
    """The words of one episode in order. `breaks` holds the index of each word that opens a cue or a speech segment."""

    words: list[Word]
    breaks: list[int]
    duration: float
    source: Literal["speech", "captions"]
