"""A stream of samples cut into pieces that a speech model hears at once: up to 30 seconds of voice, silences left out.

The cuts depend on nothing but the samples after the last cut, never on how the stream comes in blocks. So a run
that goes on from any cut makes the same pieces as one that was never stopped, and memory stays flat.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from .footage import RATE

if TYPE_CHECKING:
    import numpy as np

FRAME = 512  # samples that the voice detector judges at once
CONTEXT = 64  # samples of the frame before that it wants to see again
PIECE = 30 * RATE  # what the speech model hears at once
FULL_ENOUGH = 22 * RATE  # from here on a piece may end, at its longest pause
STEP = 320 * FRAME  # samples looked at before asking again whether the piece is full: 10.24 s
LONG_SILENCE = 120 * RATE  # ends a piece, however short
VOICE, NO_VOICE = 0.5, 0.35  # the detector's own usual thresholds, with hysteresis between them
PAUSE = 5  # frames; a shorter silence does not part two spans (160 ms)
PAD = 12  # frames kept before and after a span (384 ms)
BRIDGED = 62  # frames; a shorter silence stays in (2 s): how a host pauses helps the model to hear sentences


@dataclass
class Piece:
    """Voice between the samples `start` and `end` of a clip; `spans` says which samples `audio` is joined from."""

    start: int
    end: int
    spans: list[tuple[int, int]]
    audio: "np.ndarray"

    def moments(self, start: float, end: float) -> tuple[float, float]:
        """The clip's times, in seconds, of a stretch of `audio`, kept within the span that its middle falls in."""
        middle, before = (start + end) / 2 * RATE, 0
        for first, last in self.spans:
            if middle <= before + last - first:
                break
            before += last - first
        return tuple(min(max(t * RATE - before + first, first), last) / RATE for t in (start, end))



def pieces(blocks: Iterable["np.ndarray"], start: int = 0) -> Iterator[Piece]:
    """Cut a clip's blocks (float32, 16 kHz, from its sample 0) into pieces, beginning at sample `start`, a former piece's end."""
    import numpy as np

    supply = _Supply(blocks)
    supply.drop(start)
    kept, voice, detector, ended = np.zeros(0, np.float32), np.zeros(0, np.float32), _Detector(), False
    while kept.size or not ended:
        more = supply.take(STEP)
        ended = more.size < STEP
        kept, voice = np.concatenate([kept, more]), np.concatenate([voice, detector(more)])
        cut, spans = _cut(voice, ended)
        while cut:
            end = min(cut * FRAME, kept.size)
            if spans:
                inside = [(a * FRAME, min(b * FRAME, end)) for a, b in spans]
                audio = np.concatenate([kept[a:b] for a, b in inside])
                yield Piece(start, start + end, [(start + a, start + b) for a, b in inside], audio)
            start, kept, detector = start + end, kept[end:], _Detector()
            voice = detector(kept)
            cut, spans = _cut(voice, ended)


def _cut(voice: "np.ndarray", ended: bool) -> tuple[int, list[tuple[int, int]]]:
    """Where to end the piece and its spans, in frames; 0 while it is not full yet."""
    runs = _runs(voice)
    spans = _padded(runs, len(voice))
    room, fill = PIECE // FRAME, 0
    ways = []  # (pause after it, cut, spans up to it) for each span that may be the last one
    for i, (a, b) in enumerate(spans):
        if fill + b - a > room:
            break
        fill += b - a
        pause = (runs[i + 1][0] if i + 1 < len(runs) else len(voice)) - runs[i][1]
        if pause * FRAME >= LONG_SILENCE:
            return b, spans[: i + 1]
        ways.append((fill, pause, b, i + 1))
    else:
        if ended:
            return len(voice), spans
        if not spans and len(voice) * FRAME >= LONG_SILENCE:
            return len(voice) - 2 * PAD, []  # what may be the beginning of a voice stays
        return 0, []
    good = [way for way in ways if way[0] * FRAME >= FULL_ENOUGH] or ways[-1:]
    if good and good[-1][0] * 3 >= room:
        _, _, cut, count = max(good, key=lambda way: way[1])
        return cut, spans[:count]
    # a voice without a pause, or a din taken for one: end where the detector doubts it most
    a = spans[len(ways)][0]
    most = a + room - fill
    least = max(a + 1, most - (PIECE - FULL_ENOUGH) // FRAME)
    cut = least + int(voice[least:most].argmin()) if least < most else most
    return cut, [*spans[: len(ways)], (a, cut)]


def _runs(voice: "np.ndarray") -> list[tuple[int, int]]:
    """Runs of frames with voice, parted by pauses."""
    runs, begun, quiet = [], None, 0
    for i, v in enumerate(voice.tolist()):
        if begun is None:
            if v >= VOICE:
                begun, quiet = i, 0
        elif v >= VOICE:
            quiet = 0
        elif quiet or v < NO_VOICE:
            quiet += 1
            if quiet >= PAUSE:
                runs.append((begun, i + 1 - quiet))
                begun = None
    if begun is not None:
        runs.append((begun, len(voice) - quiet))
    return runs


def _padded(runs: list[tuple[int, int]], frames: int) -> list[tuple[int, int]]:
    """Runs with silence around them: short pauses whole, of long ones only the edges."""
    if not runs:
        return []
    edges = [max(runs[0][0] - PAD, 0)]
    for (_, b), (c, _) in pairwise(runs):
        edges += [(b + c) // 2] * 2 if c - b < BRIDGED else [b + PAD, c - PAD]
    edges.append(min(runs[-1][1] + PAD, frames))
    return list(zip(edges[::2], edges[1::2]))


class _Detector:
    """faster-whisper's voice detector with its memory kept from call to call."""

    def __init__(self):
        import numpy as np
        from faster_whisper.vad import get_vad_model

        self.session = get_vad_model().session
        self.h = self.c = np.zeros((1, 1, 128), np.float32)
        self.before = np.zeros(CONTEXT, np.float32)

    def __call__(self, samples: "np.ndarray") -> "np.ndarray":
        """How likely a voice is, for each whole or begun frame. Only the last call of a stream may end within a frame."""
        import numpy as np

        if not samples.size:
            return np.zeros(0, np.float32)
        frames = np.pad(samples, (0, -samples.size % FRAME)).reshape(-1, FRAME)
        context = np.vstack([self.before, frames[:-1, -CONTEXT:]])
        self.before = frames[-1, -CONTEXT:]
        out, self.h, self.c = self.session.run(None, {"input": np.hstack([context, frames]), "h": self.h, "c": self.c})
        return out.reshape(-1)


class _Supply:
    """Blocks of any size, taken in sizes that one asks for."""

    def __init__(self, blocks: Iterable["np.ndarray"]):
        import numpy as np

        self.blocks, self.held = iter(blocks), np.zeros(0, np.float32)

    def take(self, count: int) -> "np.ndarray":
        import numpy as np

        parts, have = [self.held], self.held.size
        while have < count and (block := next(self.blocks, None)) is not None:
            parts.append(block)
            have += block.size
        joined = np.concatenate(parts)
        self.held = joined[count:]
        return joined[:count]

    def drop(self, count: int) -> None:
        while count > 0 and (gone := self.take(min(count, STEP)).size):
            count -= gone
