"""Footage to words, with what is heard kept on disk as it is heard."""

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING

from .footage import RATE, Footage, FootageError, probe, sound
from .journal import Journal
from .models import find_model
from .pieces import Piece, pieces
from .settings import HearingSettings
from .speech import Listener, hint_of
from .words import Heard, Word

if TYPE_CHECKING:
    import numpy as np

WAY = 2  # of cutting and listening; raise it when the same footage would give other words, so that old journals are begun anew
PAUSE = 0.5  # seconds of silence before a word that opens a speech segment
VOICE_TO_JUDGE = 3 * RATE  # samples of voice under which nobody can tell the language
FOREIGN, ENGLISH_AT_ALL = 0.5, 0.1  # a piece is held to be in a language this likely, if English is less likely than that
LANGUAGES = {"de": "German", "fr": "French", "es": "Spanish", "it": "Italian", "pt": "Portuguese", "nl": "Dutch", "pl": "Polish",
             "ru": "Russian", "uk": "Ukrainian", "sv": "Swedish", "no": "Norwegian", "da": "Danish", "fi": "Finnish", "tr": "Turkish",
             "el": "Greek", "cs": "Czech", "ja": "Japanese", "ko": "Korean", "zh": "Chinese", "hi": "Hindi", "ar": "Arabic"}

Progress = Callable[[float, float], None]


def hear(clips: list[Path | Footage], settings: HearingSettings | None = None, hints: list[str] = (), journal: Path | None = None,
         progress: Progress | None = None) -> Heard:
    """The words of an episode: its clips in order, times running on across them.

    `hints` are words that the host is likely to say. `journal` is where the work is kept; the same call goes on from
    there. `progress(done, total)` gets seconds of footage. A clip without sound counts as silence if another has sound.
    FootageError, in one line, for footage that can't be used, holds no speech, or speech that is not English.
    """
    words: list[Word] = []
    upto = 0.0
    for some, upto in listen(clips, settings, hints, journal, progress):
        words += some
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
    with Journal(journal, _key(footage, settings, hints)) as kept:
        for number, clip in enumerate(footage):
            heard = [line for line in kept.lines if line["clip"] == number]
            for line in heard:
                yield _words(line, offset), offset + line["end"] / RATE
            at = heard[-1]["end"] if heard else 0
            if clip.has_audio and not (heard and heard[-1]["whole"]):
                blocks = _Counted(sound(clip))
                for some in _together(pieces(blocks, at), settings.together):
                    if progress:
                        progress(min(offset + some[0].start / RATE, total), total)
                    if listener is None:
                        listener = Listener(settings, hints)
                        if not kept.lines:
                            _expect_english(listener, some, clip)
                    at = some[-1].end
                    line = {"clip": number, "end": at, "whole": False,
                            "words": [[w.text, w.start, w.end, w.probability] for w in listener.hear(some)]}
                    kept.write(line)
                    yield _words(line, offset), offset + at / RATE
                at = blocks.count
                kept.write({"clip": number, "end": at, "whole": True, "words": []})
            # a picture lasts as long as the container says; sound alone, as long as it turned out to be
            offset += clip.duration if clip.has_video or not clip.has_audio else at / RATE
            if progress:
                progress(min(offset, total), total)
            yield [], offset


def _key(footage: list[Footage], settings: HearingSettings, hints: list[str]) -> str:
    """One string for all that the words depend on."""
    model = find_model(settings.model)
    parts = [WAY, [clip.sha256 for clip in footage], model.mark, settings.model_dump(exclude={"model", "threads"}),
             hint_of(hints) if settings.hint else None, version("faster-whisper"), version("ctranslate2")]
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()


def _words(line: dict, offset: float) -> list[Word]:
    return [Word(text=t, start=round(s + offset, 3), end=round(e + offset, 3), probability=p) for t, s, e, p in line["words"]]


def _together(some: Iterable[Piece], count: int) -> Iterator[list[Piece]]:
    group = []
    for piece in some:
        group.append(piece)
        if len(group) == count:
            yield group
            group = []
    if group:
        yield group


def _expect_english(listener: Listener, some: list[Piece], clip: Footage) -> None:
    """FootageError where the first pieces are in another language; some English among them is enough to go on."""
    guesses = []
    for piece in some[:3]:
        if len(piece.audio) >= VOICE_TO_JUDGE:
            language, likely, english = listener.language(piece)
            if likely < FOREIGN or english >= ENGLISH_AT_ALL:
                return
            guesses.append(language)
    if guesses:
        language = LANGUAGES.get(guesses[0], "another language")
        raise FootageError(f"the talk sounds like {language} ({guesses[0]}); only English is understood", clip.path,
                           "use footage in English, or give English captions with --captions")


class _Counted:
    """Blocks on their way through, their samples counted."""

    def __init__(self, blocks: Iterable["np.ndarray"]):
        self.blocks, self.count = blocks, 0

    def __iter__(self) -> Iterator["np.ndarray"]:
        for block in self.blocks:
            self.count += len(block)
            yield block


def _names(clips: list[Path | Footage]) -> str:
    return ", ".join(str(clip.path if isinstance(clip, Footage) else clip) for clip in clips)
