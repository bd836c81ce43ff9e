"""Windows of sound to words, by the speech model, with a guard against what such models invent."""

import re
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import TYPE_CHECKING

from .footage import RATE
from .models import crew, find_model, load_model
from .pieces import Piece, pieces
from .settings import HearingSettings
from .windows import Window
from .words import Word

if TYPE_CHECKING:
    import numpy as np
    from faster_whisper import WhisperModel
    from faster_whisper.transcribe import Segment
    from faster_whisper.transcribe import Word as HeardWord

ENGLISH = "en"
LOOP, DOUBT = 2.4, -1.0  # faster-whisper's own marks of trouble: text that shrinks this much when packed, mean log probability
SILENT = 0.6  # its own mark, too: how likely nobody speaks where it doubts what it hears
CAREFUL, SHORTER = {"beam_size": 5, "no_repeat_ngram_size": 4}, (15, 10)  # how a troubled stretch is heard again, and its pieces' lengths
LONGEST_WORD = 2.0  # seconds; the model stretches a word over a pause next to it
ECHO = 5  # words of the hint in a row, and nothing else, that are taken for the model's own
HINT_LETTERS = 440  # the hint takes room in the model's memory
ON_CARD = 8  # pieces a call on a graphics card; on a processor calls side by side, of one piece each, are quicker and take less memory
# how often in a row a run of so many words may come before it is taken for a loop of the model's own
REPEATS = {1: 8, 2: 5, 3: 4, 4: 3, 5: 3, 6: 3, 7: 3, 8: 3}
ENOUGH_VOICE = 3 * RATE  # samples of voice under which nobody can tell the language
FOREIGN, ENGLISH_AT_ALL = 0.5, 0.1  # talk is held to be in a language this likely, if English is less likely than that


class Foreign(Exception):
    """The talk is in another language: its code is the argument."""


class Listener:
    """A loaded speech model with its settings. Load it once: it takes half a second and a few hundred MB."""

    def __init__(self, settings: HearingSettings, hints: list[str] = ()):
        self.settings = settings
        self.model = load_model(settings)
        on_card = self.model.model.device == "cuda"
        self.together = settings.together or (ON_CARD if on_card else 1)
        self.beside = 1 if on_card else crew(settings)[0]
        self.hint = hint_of(hints) if settings.hint else None

    def hear(self, window: Window, unsure: bool = False, progress: Callable[[float], None] = lambda second: None,
             so_far: list[dict] = (), keep: Callable[[dict], None] = lambda row: None) -> list[Word]:
        """The words of a window, in order, times in the clip's seconds.

        `unsure` asks for Foreign where the talk is not in English. `progress` gets the clip's second that is reached. `keep` gets
        what is heard, one call of the model at a time; the same rows, given as `so_far`, are not heard again, and the words come out the same.
        """
        found = pieces(window.audio)
        if unsure and not so_far:
            self._refuse_foreign(found, window.audio)
        start, end = window.start / RATE, window.end / RATE
        rows = [_segments(row) for row in so_far]
        left = found[sum(row["pieces"] for row in so_far) :]
        for batch, segments in self._listen(left, window.audio, beam_size=self.settings.beam_size):
            rows.append(segments)
            keep(_row(batch, segments))
            progress(start + batch[-1].spans[-1][1] / RATE)
        heard = [w for s in self._untroubled([s for row in rows for s in row], window.audio) for w in s.words or () if w.word.strip()]
        words = [Word(text=w.word.strip(), start=w.start + start, end=w.end + start, probability=round(w.probability, 3)) for w in _hyphened(heard)]
        return without_loops(in_order(words, start, end))

    def _listen(self, some: list[Piece], audio: "np.ndarray", **options) -> Iterator[tuple[list[Piece], list["Segment"]]]:
        """Some pieces at a time with what is said in them, in order, times in the seconds of `audio`.

        Each call of the model begins anew, so that what it gives depends on nothing but its own pieces, and calls may run side by side.
        """
        import numpy as np
        from faster_whisper import BatchedInferencePipeline
        from faster_whisper.transcribe import restore_speech_timestamps

        def call(batch: list[Piece]) -> list["Segment"]:
            ends = [sum(p.length for p in batch[: i + 1]) / RATE for i in range(len(batch))]
            segments, _ = BatchedInferencePipeline(self.model).transcribe(
                np.concatenate([piece.of(audio) for piece in batch]), batch_size=len(batch), language=ENGLISH, word_timestamps=True,
                clip_timestamps=[{"start": a, "end": b} for a, b in zip([0.0, *ends], ends)], hotwords=self.hint,
                temperature=0.0, **options)  # one temperature: falling back to chance would make every run another
            spans = [{"start": a, "end": b} for piece in batch for a, b in piece.spans]
            return [s for s in restore_speech_timestamps(segments, spans, RATE) if not _silent(s) and not echoes(s.text, self.hint)]

        batches = [some[at : at + self.together] for at in range(0, len(some), self.together)]
        with ThreadPoolExecutor(self.beside) as calls:
            yield from zip(batches, calls.map(call, batches))

    def _untroubled(self, segments: list["Segment"], audio: "np.ndarray") -> list["Segment"]:
        """The segments, with each row of doubtful ones heard again by itself, in shorter pieces and with more care, where that helps."""
        from itertools import groupby

        out: list[Segment] = []
        rows = [(bad, list(row)) for bad, row in groupby(segments, _doubtful)]
        for i, (bad, row) in enumerate(rows):
            if bad:
                begin = rows[i - 1][1][-1].end if i else 0.0
                end = rows[i + 1][1][0].start if i + 1 < len(rows) else len(audio) / RATE
                part = audio[int(begin * RATE) : int(end * RATE)]
                again = [s for _, some in self._listen(pieces(part, *SHORTER), part, **CAREFUL) for s in some]
                if again and _surest(again) > _surest(row):
                    row = [_later(segment, begin) for segment in again]
            out += row
        return out

    def _refuse_foreign(self, found: list[Piece], audio: "np.ndarray") -> None:
        """Foreign where the first pieces are in another language; some English among them is enough to go on."""
        model: WhisperModel = self.model
        if not model.model.is_multilingual:
            find_model("base")
            model = load_model(self.settings.model_copy(update={"model": "base"}))
        guesses = []
        for piece in found[:3]:
            if piece.length >= ENOUGH_VOICE:
                code, likely, every = model.detect_language(piece.of(audio))
                if likely < FOREIGN or dict(every).get(ENGLISH, 0.0) >= ENGLISH_AT_ALL:
                    return
                guesses.append(code)
        if guesses:
            raise Foreign(guesses[0])


def hint_of(sentences: list[str]) -> str | None:
    """The first hints that fit, as the model takes them."""
    text = ""
    for sentence in dict.fromkeys(sentences):
        if len(text) + len(sentence) + 1 > HINT_LETTERS:
            break
        text += f" {sentence}" if text else sentence
    return text or None


def echoes(text: str, hint: str | None) -> bool:
    """Is this nothing but a stretch of the hint, read back? So many of its words in its order nobody says."""
    said, told = (" ".join(re.findall(r"[a-z0-9'-]+", t.lower())) for t in (text, hint or ""))
    return said.count(" ") + 1 >= ECHO and f" {said} " in f" {told} "


def in_order(words: list[Word], start: float, end: float) -> list[Word]:
    """Words with times that follow one another, none longer than a word can be, none outside `start` to `end`."""
    at = start
    for i, word in enumerate(words):
        if word.end - word.start > LONGEST_WORD:
            # the pause was before the first word of a row, after any other
            if i == 0:
                word.start = word.end - LONGEST_WORD
            else:
                word.end = word.start + LONGEST_WORD
        word.start = round(min(max(word.start, at), end), 3)
        word.end = at = round(min(max(word.end, word.start), end), 3)
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


def _doubtful(segment: "Segment") -> bool:
    return segment.compression_ratio > LOOP or segment.avg_logprob < DOUBT


def _hyphened(words: list["HeardWord"]) -> Iterator["HeardWord"]:
    """The words, each with what hangs on it by a hyphen: the model gives "62-301" and "O-ring" in two."""
    whole = None
    for word in words:
        if whole and word.word.startswith("-") and len(word.word) > 1:
            whole = replace(whole, word=whole.word.rstrip() + word.word, end=word.end, probability=min(whole.probability, word.probability))
        else:
            if whole:
                yield whole
            whole = word
    if whole:
        yield whole


def _silent(segment: "Segment") -> bool:
    return segment.no_speech_prob > SILENT and segment.avg_logprob < DOUBT


def _surest(segments: list["Segment"]) -> tuple[bool, float]:
    """Better is greater: no trouble first, then the mean log probability."""
    return not any(map(_doubtful, segments)), sum(s.avg_logprob for s in segments) / len(segments)


def _row(batch: list[Piece], segments: list["Segment"]) -> dict:
    """What one call of the model gave, as plain values for the journal."""
    return {"pieces": len(batch), "segments": [[s.start, s.end, s.avg_logprob, s.compression_ratio, [[w.word, w.start, w.end, float(w.probability)] for w in s.words or ()]]
                         for s in segments]}


def _segments(row: dict) -> list["Segment"]:
    from faster_whisper.transcribe import Segment
    from faster_whisper.transcribe import Word as Said

    return [
        Segment(id=0, seek=0, start=start, end=end, text="", tokens=[], avg_logprob=sure, compression_ratio=packed, no_speech_prob=0.0,
                words=[Said(start=s, end=e, word=t, probability=p) for t, s, e, p in words], temperature=0.0)
        for start, end, sure, packed, words in row["segments"]]


def _later(segment: "Segment", seconds: float) -> "Segment":
    from dataclasses import replace

    return replace(segment, start=segment.start + seconds, end=segment.end + seconds,
                   words=[replace(w, start=w.start + seconds, end=w.end + seconds) for w in segment.words or ()])
