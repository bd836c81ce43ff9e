"""Pieces of voice to words, by the speech model, with a guard against what such models invent."""

import zlib
from typing import TYPE_CHECKING

from .footage import RATE
from .models import find_model, load_model
from .pieces import Piece
from .settings import HearingSettings
from .words import Word

if TYPE_CHECKING:
    from faster_whisper import WhisperModel

ENGLISH = "en"
LOOP = 2.4  # text that zlib shrinks more than this says the same thing over and over
DOUBT = -1.0  # mean log probability below which words are heard a second time
INVENTED = 0.6  # likelihood of "no speech" above which doubtful words are left out
LONGEST_WORD = 2.0  # seconds; the model stretches a word over a pause next to it
HINT_LETTERS = 400  # the hint takes room in the model's memory
# how often in a row a run of so many words may come before it is taken for a loop of the model's own
REPEATS = {1: 8, 2: 5, 3: 4, 4: 3, 5: 3, 6: 3, 7: 3, 8: 3}


class Listener:
    """A loaded speech model with its settings. Load it once: it takes half a second and a few hundred MB."""

    def __init__(self, settings: HearingSettings, hints: list[str] = ()):
        self.settings = settings
        self.model = load_model(settings)
        self.hint = hint_of(hints) if settings.hint else None

    def hear(self, pieces: list[Piece]) -> list[Word]:
        """The words of some pieces of one clip, in order, times in the clip's seconds. What one says helps to hear the next."""
        import numpy as np

        row = Piece(pieces[0].start, pieces[-1].end, [s for p in pieces for s in p.spans], np.concatenate([p.audio for p in pieces]))
        segments = self._segments(row, condition_on_previous_text=self.settings.context)
        if any(_doubtful(s) for s in segments):
            # a model that has lost its way is led astray further by its own words
            segments = self._segments(row, condition_on_previous_text=False, no_repeat_ngram_size=4)
        heard = [(w, *row.moments(w.start, w.end)) for s in segments if not _invented(s) for w in s.words or () if w.word.strip()]
        words = [Word(text=w.word.strip(), start=start, end=end, probability=round(w.probability, 3)) for w, start, end in heard]
        return without_loops(in_order(words, row))

    def language(self, piece: Piece) -> tuple[str, float, float]:
        """The language that a piece most likely is in, how likely, and how likely English is. English-only models ask the base model."""
        model: WhisperModel = self.model
        if not model.model.is_multilingual:
            find_model("base")
            model = load_model(self.settings.model_copy(update={"model": "base"}))
        code, likely, all_likely = model.detect_language(piece.audio)
        return code, likely, dict(all_likely).get(ENGLISH, 0.0)

    def _segments(self, row: Piece, **options) -> list:
        # one temperature: falling back to chance would make every run another
        found, _ = self.model.transcribe(row.audio, language=ENGLISH, word_timestamps=True, beam_size=self.settings.beam_size, temperature=0.0,
                                         hotwords=self.hint, **options)
        return list(found)


def hint_of(words: list[str]) -> str | None:
    """The first hints that fit, as the model takes them."""
    text = ""
    for word in dict.fromkeys(" ".join(w.split()) for w in words):
        if word and len(text) + len(word) + 2 <= HINT_LETTERS:
            text += f", {word}" if text else word
    return text or None


def in_order(words: list[Word], piece: Piece) -> list[Word]:
    """Words with times that follow one another, none longer than a word can be, none outside the piece."""
    at = piece.start / RATE
    for i, word in enumerate(words):
        if word.end - word.start > LONGEST_WORD:
            # the pause was before the first word of a row, after any other
            if i == 0:
                word.start = word.end - LONGEST_WORD
            else:
                word.end = word.start + LONGEST_WORD
        word.start = round(max(word.start, at), 3)
        word.end = at = round(max(word.end, word.start), 3)
    return words


def without_loops(words: list[Word]) -> list[Word]:
    """Leave one round of what the model says over and over."""
    plain = [w.text.lower().strip(".,!?") for w in words]
    kept, i = [], 0
    while i < len(words):
        for size, most in REPEATS.items():
            rounds = 1
            while plain[i + rounds * size : i + (rounds + 1) * size] == plain[i : i + size] and i + (rounds + 1) * size <= len(words):
                rounds += 1
            if rounds >= most:
                kept += words[i : i + size]
                i += rounds * size
                break
        else:
            kept.append(words[i])
            i += 1
    return kept


def _doubtful(segment) -> bool:
    return _ratio(segment.text) > LOOP or segment.avg_logprob < DOUBT


def _invented(segment) -> bool:
    return segment.no_speech_prob > INVENTED and segment.avg_logprob < DOUBT


def _ratio(text: str) -> float:
    raw = text.encode()
    return len(raw) / len(zlib.compress(raw)) if raw else 0.0
