"""Footage to words, with what is heard kept on disk as it is heard."""

import hashlib
import json
from collections.abc import Callable, Iterator
from importlib.metadata import version
from pathlib import Path

from ..memory import give_back
from .footage import RATE, Footage, FootageError, probe, sound
from .journal import Journal
from .models import find_model
from .settings import HearingSettings
from .speech import Foreign, Listener, hint_of
from .windows import windows
from .words import Heard, Word

WAY = 6  # of cutting and listening; raise it when the same footage would give other words, so that old journals are begun anew
PAUSE = 0.5  # seconds of silence before a word that opens a speech segment
LANGUAGES = {"de": "German", "fr": "French", "es": "Spanish", "it": "Italian", "pt": "Portuguese", "nl": "Dutch", "pl": "Polish",
             "ru": "Russian", "uk": "Ukrainian", "sv": "Swedish", "no": "Norwegian", "da": "Danish", "fi": "Finnish", "tr": "Turkish",
             "el": "Greek", "cs": "Czech", "ja": "Japanese", "ko": "Korean", "zh": "Chinese", "hi": "Hindi", "ar": "Arabic"}

Progress = Callable[[float, float], None]


def hear(clips: list[Path | Footage], settings: HearingSettings | None = None, hints: list[str] = (), journal: Path | None = None,
         progress: Progress | None = None) -> Heard:
    """The words of an episode: its clips in order, times running on across them.

    `hints` are sentences of words that the host is likely to say (hints.py). `journal` is where the work is kept; the same call goes on from
    there. `progress(done, total)` gets seconds of footage. A clip without sound counts as silence if another has sound.
    FootageError, in one line, for footage that can't be used, holds no speech, or speech that is not English.
    """
    words: list[Word] = []
    upto = 0.0
    for some, upto in listen(clips, settings, hints, journal, progress):
        words += some
    give_back()
    if not words:
        raise FootageError("no speech was found, only silence, noise or music", _names(clips), "check that the host's microphone was recorded")
    breaks = [i for i, word in enumerate(words) if i == 0 or word.start - words[i - 1].end >= PAUSE]
    return Heard(words=words, breaks=breaks, duration=round(upto, 3), source="speech")


def listen(clips: list[Path | Footage], settings: HearingSettings | None = None, hints: list[str] = (), journal: Path | None = None,
           progress: Progress | None = None) -> Iterator[tuple[list[Word], float]]:
    """The same as a stream: some words at a time, with the second of the episode up to which all is heard."""
    settings = settings or HearingSettings()
    footage = [clip if isinstance(clip, Footage) else probe(clip) for clip in clips]
    if not any(clip.has_audio for clip in footage):
        raise FootageError("there is no sound track", _names(clips), "use footage with the host's voice, or give captions with --captions")
    total = sum(clip.duration for clip in footage)
    offset, listener = 0.0, None

    def tell(second: float) -> None:
        """How far this clip is heard, in its own seconds."""
        if progress:
            progress(min(offset + second, total), total)

    with Journal(journal, _key(footage, settings, hints)) as kept:
        unsure = not any(line.get("words") for line in kept.lines)  # whether it is English that is spoken
        for number, clip in enumerate(footage):
            at, whole = 0, not clip.has_audio
            for line in kept.lines:
                if line["clip"] == number and "end" in line:
                    at, whole = line["end"], line["whole"]
                    yield _words(line, offset), offset + at / RATE
            if not whole:
                tell(at / RATE)
                for window in windows(sound(clip), round(settings.window * RATE), at):
                    listener = listener or Listener(settings, hints)
                    part = {"clip": number, "start": window.start}
                    so_far = [line for line in kept.lines if part.items() <= line.items()]
                    try:
                        words = listener.hear(window, unsure, tell, so_far, lambda row: kept.write(part | row))
                    except Foreign as error:
                        raise _not_english(error.args[0], clip) from error
                    unsure, at = unsure and not words, window.end
                    line = {"clip": number, "end": at, "whole": False, "words": [[w.text, w.start, w.end, w.probability] for w in words]}
                    kept.write(line)
                    tell(at / RATE)
                    yield _words(line, offset), offset + at / RATE
                kept.write({"clip": number, "end": at, "whole": True, "words": []})
            # a picture lasts as long as the container says; sound alone, as long as it turned out to be
            offset += clip.duration if clip.has_video or not clip.has_audio else at / RATE
            tell(0)
            yield [], offset


def _key(footage: list[Footage], settings: HearingSettings, hints: list[str]) -> str:
    """One string for all that the words depend on."""
    model = find_model(settings.model)
    parts = [WAY, [clip.sha256 for clip in footage], model.mark, settings.model_dump(exclude={"model", "threads", "together"}),
             hint_of(hints) if settings.hint else None, version("faster-whisper"), version("ctranslate2")]
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()


def _words(line: dict, offset: float) -> list[Word]:
    return [Word(text=t, start=round(s + offset, 3), end=round(e + offset, 3), probability=p) for t, s, e, p in line["words"]]


def _not_english(code: str, clip: Footage) -> FootageError:
    return FootageError(f"the talk sounds like {LANGUAGES.get(code, 'another language')} ({code}); only English is understood", clip.path,
                        "use footage in English, or give English captions with --captions")


def _names(clips: list[Path | Footage]) -> str:
    return ", ".join(str(clip.path if isinstance(clip, Footage) else clip) for clip in clips)
