"""Windows of sound to words, by the speech model, with a guard against what such models invent."""

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from .footage import RATE
from .models import find_model, load_model
from .settings import HearingSettings
from .windows import Window
from .words import Word

if TYPE_CHECKING:
    import numpy as np
    from faster_whisper import WhisperModel
    from faster_whisper.transcribe import Segment

ENGLISH = "en"
LOOP, DOUBT = 2.4, -1.0  # faster-whisper's own marks of trouble: text that shrinks this much when packed, mean log probability
CAREFUL = {"beam_size": 5, "no_repeat_ngram_size": 4, "condition_on_previous_text": False}  # how a troubled stretch is heard again
LONGEST_WORD = 2.0  # seconds; the model stretches a word over a pause next to it
HINT_LETTERS = 400  # the hint takes room in the model's memory
# how often in a row a run of so many words may come before it is taken for a loop of the model's own
REPEATS = {1: 8, 2: 5, 3: 4, 4: 3, 5: 3, 6: 3, 7: 3, 8: 3}
FRAMES = 100  # a second, in the model's own count of where it is
STRETCH = 30 * RATE  # samples that the model judges the language by
ENOUGH_VOICE = 3 * RATE  # samples of voice under which nobody can tell the language
FOREIGN, ENGLISH_AT_ALL = 0.5, 0.1  # talk is held to be in a language this likely, if English is less likely than that


class Foreign(Exception):
    """The talk is in another language: its code is the argument."""


class Listener:
    """A loaded speech model with its settings. Load it once: it takes half a second and a few hundred MB."""

    def __init__(self, settings: HearingSettings, hints: list[str] = ()):
        self.settings = settings
        self.model = load_model(settings)
        self.hint = hint_of(hints) if settings.hint else None

    def hear(self, window: Window, unsure: bool = False, progress: Callable[[float], None] = lambda second: None,
             so_far: list[dict] = (), keep: Callable[[dict], None] = lambda row: None) -> list[Word]:
        """The words of a window, in order, times in the clip's seconds.

        `unsure` asks for Foreign where the talk is not in English. `progress` gets the clip's second that is reached. `keep` gets
        what is heard, some segments at a time; the same rows, given as `so_far`, are not heard again, and the words come out the same.
        """
        multilingual = self.model.model.is_multilingual
        # the last row is heard once more, for the model times a word by where the one before it ended
        seek = so_far[-1]["seek"] if so_far else 0
        # asked for no language, the model guesses it from what it listens to anyhow
        segments, info = self._transcribe(window.audio, seek, language=None if unsure and multilingual and not so_far else ENGLISH)
        if unsure and not so_far and (info.language != ENGLISH or not multilingual):
            self._refuse_foreign(window.audio)
            segments, _ = self._transcribe(window.audio, language=ENGLISH)
        start, end = window.start / RATE, window.end / RATE
        found, row = [segment for kept in so_far for segment in _segments(kept)], []
        for segment in segments:
            progress(min(start + segment.end, end))
            if so_far and segment.seek == seek:
                continue
            if row and segment.seek != row[0].seek:
                keep(_row(row))
                row = []
            row.append(segment)
            found.append(segment)
        heard = [w for s in self._untroubled(found, window.audio) for w in s.words or () if w.word.strip()]
        words = [Word(text=w.word.strip(), start=w.start + start, end=w.end + start, probability=round(w.probability, 3)) for w in heard]
        return without_loops(in_order(words, start, end))

    def _transcribe(self, audio: "np.ndarray", seek: int = 0, **options) -> tuple[Iterable["Segment"], object]:
        """One plain call of the model over the voice in `audio`, from `seek` hundredths of a second of voice on.

        The voice is cut out as faster-whisper's own filter does it; only so can a call begin in the middle.
        """
        import numpy as np
        from faster_whisper.transcribe import restore_speech_timestamps
        from faster_whisper.vad import collect_chunks, get_speech_timestamps

        voiced = get_speech_timestamps(audio)
        voice = np.concatenate(collect_chunks(audio, voiced)[0])
        # one temperature: falling back to chance would make every run another
        chosen = {"beam_size": self.settings.beam_size, "condition_on_previous_text": self.settings.context} | options
        segments, info = self.model.transcribe(
            voice, word_timestamps=True, temperature=0.0, hotwords=self.hint, clip_timestamps=[seek / FRAMES] if seek else "0", **chosen)
        return restore_speech_timestamps(segments, voiced, RATE) if voiced else segments, info

    def _untroubled(self, segments: list["Segment"], audio: "np.ndarray") -> list["Segment"]:
        """The segments, with each row of doubtful ones heard again by itself, with more care, where that helps."""
        from itertools import groupby

        out: list[Segment] = []
        rows = [(bad, list(row)) for bad, row in groupby(segments, _doubtful)]
        for i, (bad, row) in enumerate(rows):
            if bad:
                begin = rows[i - 1][1][-1].end if i else 0.0
                end = rows[i + 1][1][0].start if i + 1 < len(rows) else len(audio) / RATE
                again = list(self._transcribe(audio[int(begin * RATE) : int(end * RATE)], language=ENGLISH, **CAREFUL)[0])
                if again and _surest(again) > _surest(row):
                    row = [_later(segment, begin) for segment in again]
            out += row
        return out

    def _refuse_foreign(self, audio: "np.ndarray") -> None:
        """Foreign where the first stretches of voice are in another language; some English among them is enough to go on."""
        import numpy as np
        from faster_whisper.vad import collect_chunks, get_speech_timestamps

        model: WhisperModel = self.model
        if not model.model.is_multilingual:
            find_model("base")
            model = load_model(self.settings.model_copy(update={"model": "base"}))
        voice = np.concatenate(collect_chunks(audio, get_speech_timestamps(audio))[0])
        guesses = []
        for at in range(0, min(len(voice), 3 * STRETCH), STRETCH):
            if len(voice) - at >= ENOUGH_VOICE:
                code, likely, every = model.detect_language(voice[at : at + STRETCH])
                if likely < FOREIGN or dict(every).get(ENGLISH, 0.0) >= ENGLISH_AT_ALL:
                    return
                guesses.append(code)
        if guesses:
            raise Foreign(guesses[0])


def hint_of(words: list[str]) -> str | None:
    """The first hints that fit, as the model takes them."""
    text = ""
    for word in dict.fromkeys(" ".join(w.split()) for w in words):
        if word and len(text) + len(word) + 2 <= HINT_LETTERS:
            text += f", {word}" if text else word
    return text or None


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


def _surest(segments: list["Segment"]) -> tuple[bool, float]:
    """Better is greater: no trouble first, then the mean log probability."""
    return not any(map(_doubtful, segments)), sum(s.avg_logprob for s in segments) / len(segments)


def _row(segments: list["Segment"]) -> dict:
    """Segments that the model gave at once, as plain values for the journal."""
    return {"seek": segments[0].seek, "segments": [
        [s.start, s.end, s.avg_logprob, s.compression_ratio, [[w.word, w.start, w.end, float(w.probability)] for w in s.words or ()]] for s in segments]}


def _segments(row: dict) -> list["Segment"]:
    from faster_whisper.transcribe import Segment
    from faster_whisper.transcribe import Word as Said

    return [
        Segment(id=0, seek=row["seek"], start=start, end=end, text="", tokens=[], avg_logprob=sure, compression_ratio=packed, no_speech_prob=0.0,
                words=[Said(start=s, end=e, word=t, probability=p) for t, s, e, p in words], temperature=0.0)
        for start, end, sure, packed, words in row["segments"]]


def _later(segment: "Segment", seconds: float) -> "Segment":
    from dataclasses import replace

    return replace(segment, start=segment.start + seconds, end=segment.end + seconds,
                   words=[replace(w, start=w.start + seconds, end=w.end + seconds) for w in segment.words or ()])
