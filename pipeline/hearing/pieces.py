"""A window's voice in pieces of half a minute at most, as the speech model takes them, cut where the host pauses longest.

Silence is left out, so that nothing is invented in it, and what is left of a long pause still sounds like one. The model hears each piece by
itself: a sentence cut in two is a sentence heard badly.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from .footage import RATE

if TYPE_CHECKING:
    import numpy as np

LONGEST = 30  # seconds, what the model takes
FULL = 24  # seconds of voice from which a piece may end; shorter pieces cost as much to hear as whole ones
PAUSE_MS = 160  # silence that parts two spans of voice
PAD = RATE * 2 // 5  # samples of silence that stay on either side of a span: a soft beginning is part of the word


@dataclass
class Piece:
    """Spans of voice (samples from a window's beginning, in order, none overlapping) that are heard as one."""

    spans: list[tuple[int, int]]

    @property
    def length(self) -> int:
        return sum(end - start for start, end in self.spans)

    def of(self, audio: "np.ndarray") -> "np.ndarray":
        import numpy as np

        return np.concatenate([audio[start:end] for start, end in self.spans])


def pieces(audio: "np.ndarray", longest: float = LONGEST, full: float = FULL) -> list[Piece]:
    """The voice in `audio` (float32, 16 kHz), nothing of it twice; none where nobody speaks."""
    from faster_whisper.vad import get_speech_timestamps

    # a span is cut off at `max_speech_duration_s` less both pads
    voiced = [(s["start"], s["end"]) for s in get_speech_timestamps(
        audio, min_silence_duration_ms=PAUSE_MS, speech_pad_ms=0, max_speech_duration_s=longest - 2 * PAD / RATE)]
    if not voiced:
        return []
    pauses = [after[0] - before[1] for before, after in zip(voiced, voiced[1:])]
    left = [min(PAD, voiced[0][0]), *(min(PAD, pause - pause // 2) for pause in pauses)]
    right = [*(min(PAD, pause // 2) for pause in pauses), min(PAD, len(audio) - voiced[-1][1])]
    spans = [(start - before, end + after) for (start, end), before, after in zip(voiced, left, right)]
    out, first = [], 0
    while first < len(spans):
        cut, size = first, 0
        for i in range(first, len(spans)):
            size += spans[i][1] - spans[i][0]
            if size > longest * RATE and i > first:
                break
            if size < full * RATE or i == len(pauses) or pauses[i] >= pauses[cut]:
                cut = i
        out.append(Piece(spans[first : cut + 1]))
        first = cut + 1
    return out
