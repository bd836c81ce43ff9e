"""Stills for the guide: near each step a sharp, steady picture of what is said, decoded only around the places that are asked for.

Key frames near the step are looked at first, because they cost least. Where none of them is as sharp as this footage usually is,
the stretch itself is decoded.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING

from ..record import Step
from .settings import WritingSettings

if TYPE_CHECKING:
    import av.container
    import numpy as np

_BEFORE = 0.5         # seconds before a step's start that may still show it
_REACH = 4.0          # seconds after a step's end that still belong to it: the hand does what the voice has said
_MOMENTS = 6          # places at which a key frame is looked for
_SAMPLES = 12         # key frames over the whole clip that say how sharp this footage usually is
_APART = 0.1          # seconds between the two frames of one look: a hand-held shake shows within that
_EVERY = 0.3          # seconds between two looks where a stretch is decoded
_MOST_AFTER = 12      # frames decoded after a key frame to find its second frame
_MOST_DECODED = 500   # frames of a stretch, and the same number of megapixels, after which it is left
_FRESH = 30.0         # seconds within which no two stills may be twins
_WIDTH = 640          # width at which frames are judged
_FULL = 8192 * 8192   # a picture of more pixels than this is not opened

# what makes a picture good enough to look no further
_SOFTER = 0.04        # blur above the clip's usual one
_SHAKEN = 0.004       # of the width that the whole picture moved within a look
_BUSY = 8.0           # mean change of brightness, of 255, within a look

_TWIN_CELL, _TWIN_CELLS = 8.0, 3  # two pictures are twins if fewer cells of a 32 by 18 grid than this differ by so much brightness

# what is worth a picture, dearest first, where a guide has more steps than stills
_SHOWS = ("remove", "install", "align", "inspect", "mark", "repair", "replace", "adjust", "lubricate", "set aside", "loosen", "measure",
          "tighten", "test", "degrease", "clean", "dry")


@dataclass(frozen=True)
class Still:
    """A JPEG file's name, and the moment of the episode that it shows, in seconds."""

    name: str
    moment: float


@dataclass(frozen=True)
class _Look:
    """A frame as it was judged, together with one a moment later. `blur` is 0 (crisp) to 1, `shift` a share of the width."""

    at: float
    blur: float
    shift: float
    busy: float
    exposure: float  # 1 well exposed; 0 or less black, white or washed out
    cells: "np.ndarray"
    frame: "av.VideoFrame"

    def clear(self, usual: float) -> bool:
        return self.blur <= usual + _SOFTER and self.shift <= _SHAKEN and self.exposure > 0.0

    def good(self, usual: float) -> bool:
        return self.clear(usual) and self.busy <= _BUSY and self.exposure > 0.3

    def merit(self, usual: float, wanted: float) -> float:
        return self.exposure - 20 * max(0.0, self.blur - usual) - self.busy / 20 - abs(self.at - wanted) / 10

    def twin_of(self, other: "_Look") -> bool:
        return int((abs(self.cells - other.cells) > _TWIN_CELL).sum()) < _TWIN_CELLS


def take_stills(steps: list[Step], footage: list[Path], folder: Path, settings: WritingSettings) -> dict[str, Still]:
    """JPEG files in `folder`, by step id. Steps without a good picture, or with a twin of the one before, have none.

    What the host chose for a step (`Step.still`) is taken as it is. Footage without picture, or that can't be read, gives none:
    a guide looks right without stills.
    """
    from ..errors import BenchError
    from ..hearing.footage import open_footage

    shown = [s for s in steps if not s.undone and s.still != "none"]
    shown.sort(key=lambda s: (s.still is None, _SHOWS.index(s.do), -s.confidence, s.start))
    places = _places(shown[: settings.most_stills], sorted({s.start for s in steps if not s.undone}))
    stills: dict[str, Still] = {}
    offset = 0.0
    for clip in footage:
        try:
            with open_footage(clip) as container:
                length = (container.duration or 0) / 1e6
                stream = container.streams.best("video")
                if stream is not None and 0 < stream.width * stream.height <= _FULL:
                    source, taken = _Source(container, stream, length), []
                    for step, start, end, wanted in places:
                        if not offset <= wanted < offset + length:
                            continue
                        if step.still is not None:
                            look = source.exactly(step.still - offset)
                        else:
                            look = source.best(max(0.0, start - offset), min(end - offset, length), wanted - offset, taken)
                        if look is not None:
                            stills[step.id] = Still(_save(look.frame, folder, len(stills) + 1, settings.still_width), round(look.at + offset, 3))
                            taken = [*(t for t in taken if look.at - t.at < _FRESH), look]
        except BenchError:
            continue
        offset += length
    return stills


def _places(steps: list[Step], begins: list[float]) -> list[tuple[Step, float, float, float]]:
    """Where to look for each step: (step, from, to, best at), in order of time. Steps told in one breath share its time in their order."""
    places = []
    for (start, end), told in groupby(sorted(steps, key=lambda s: (s.start, s.end)), key=lambda s: (s.start, s.end)):
        together = list(told)
        following = next((t for t in begins if t > end), float("inf"))
        last = min(end + _REACH, max(end + 1.0, following + _BEFORE))
        for i, step in enumerate(together):
            first, wanted = (start + (end - start) * n / len(together) for n in (i, i + 1))
            until = last if i + 1 == len(together) else wanted + _BEFORE
            places.append((step, first - _BEFORE, until, wanted if step.still is None else step.still))
    return sorted(places, key=lambda place: place[3])


class _Source:
    """One clip's pictures. Times are seconds from its beginning."""

    def __init__(self, container: "av.container.InputContainer", stream, length: float):
        self.container, self.stream = container, stream
        self.zero = float((stream.start_time or 0) * stream.time_base)
        stream.thread_type = "AUTO"
        seen = [next(self._frames(length * (i + 0.5) / _SAMPLES), None) for i in range(_SAMPLES)]
        self.usual = median([_blur(_grey(f)) for f in seen if f is not None] or [0.0])

    def best(self, start: float, end: float, wanted: float, taken: list[_Look]) -> _Look | None:
        """A clear look between `start` and `end`, near `wanted`, that is no twin of those taken before."""
        looks: list[_Look] = []
        for look in self._at_key_frames(start, end, wanted):
            if look.clear(self.usual) and not any(look.twin_of(t) for t in taken):
                if look.good(self.usual):
                    return look
                looks.append(look)
        enough = False
        for look in self._along(start, end):
            if look.clear(self.usual) and not any(look.twin_of(t) for t in taken):
                looks.append(look)
                enough |= look.good(self.usual)
            if enough and look.at >= wanted + _EVERY:
                break
        return max(looks, key=lambda look: look.merit(self.usual, wanted), default=None)

    def exactly(self, at: float) -> _Look | None:
        """The frame that shows at this moment, however it looks."""
        shown = None
        for count, frame in enumerate(self._frames(at, every=True)):
            if shown is not None and self._time(frame) > at + 0.001 or count > 8 * _MOST_DECODED:
                break
            shown = frame
        return self._judged(shown, shown) if shown is not None else None

    def _at_key_frames(self, start: float, end: float, wanted: float) -> Iterator[_Look]:
        """Looks at the key frames of a stretch, those nearest to `wanted` first."""
        places = sorted((start + (end - start) * (i + 1) / _MOMENTS for i in range(_MOMENTS)), key=lambda t: abs(t - wanted))
        known: list[tuple[float, float]] = []  # from a key frame to a place that it was found from: no other lies between
        for place in places:
            if any(key <= place <= found for key, found in known):
                continue
            frames = self._frames(place)
            first = next(frames, None)
            if first is None:
                continue
            known.append((self._time(first), place))
            if not start <= self._time(first) <= end:
                continue
            second = first
            for _, second in zip(range(_MOST_AFTER), frames):
                if self._time(second) >= self._time(first) + _APART:
                    break
            yield self._judged(first, second)

    def _along(self, start: float, end: float) -> Iterator[_Look]:
        """Looks along a stretch, one every _EVERY seconds, decoded from the key frame before it."""
        first, due, pixels = None, start, 0
        for count, frame in enumerate(self._frames(start), 1):
            at, pixels = self._time(frame), pixels + frame.width * frame.height
            if at > end + _APART or count > _MOST_DECODED or pixels > _MOST_DECODED * 1e6:
                break
            if first is not None and at >= self._time(first) + _APART:
                yield self._judged(first, frame)
                first = None
            elif first is None and at >= due:
                first, due = frame, at + _EVERY

    def _frames(self, at: float, every: bool = False) -> Iterator["av.VideoFrame"]:
        """Frames from the key frame at or before `at`; none where the footage is broken there. Without `every`, those are left out
        that no other frame needs: about half the work."""
        import av

        try:
            self.stream.codec_context.skip_frame = "DEFAULT" if every else "NONREF"
            self.container.seek(max(0, int((at + self.zero) / self.stream.time_base)), stream=self.stream, backward=True)
            for frame in self.container.decode(self.stream):
                if frame.width * frame.height > _FULL:
                    return
                if frame.time is not None:
                    yield frame
        except (av.FFmpegError, ValueError, OverflowError, MemoryError):
            return

    def _time(self, frame: "av.VideoFrame") -> float:
        return frame.time - self.zero

    def _judged(self, frame: "av.VideoFrame", later: "av.VideoFrame") -> _Look:
        import numpy as np

        first, second = _grey(frame), _grey(later)
        mean, spread = float(first.mean()), float(first.std())
        exposure = 1.0 - abs(mean - 118.0) / 128.0 - 2.0 * float(((first < 4) | (first > 251)).mean())
        dull = spread < 4.0 or not 12.0 <= mean <= 243.0
        return _Look(self._time(frame), _blur(first), _shift(first, second), float(np.abs(first - second).mean()), -1.0 if dull else exposure,
                     _cells(first), frame)


def _grey(frame: "av.VideoFrame") -> "np.ndarray":
    """Brightness at the size that pictures are judged at, 0 to 255."""
    width = min(_WIDTH, frame.width)
    small = frame.reformat(width=width, height=max(2, round(frame.height * width / frame.width)), format="gray")
    return small.to_ndarray().astype("float32")


def _blur(grey: "np.ndarray", reach: int = 9) -> float:
    """How little is lost when the picture is blurred once more, 0 (crisp) to 1: F. Crete and others, "The blur effect: perception and
    estimation with a new no-reference perceptual blur metric", 2007. Hardly depends on what the picture shows. Every third line is enough."""
    import numpy as np

    found = [0.0]
    for lines in (grey[::3], np.ascontiguousarray(grey.T[::3])):
        if lines.shape[1] <= 2 * reach:
            return 1.0
        sums = np.cumsum(lines, axis=1)
        blurred = (sums[:, reach:] - sums[:, :-reach]) / reach
        own = np.abs(np.diff(lines[:, reach // 2 + 1:][:, :blurred.shape[1]], axis=1))
        lost = np.maximum(0.0, own - np.abs(np.diff(blurred, axis=1)))
        found.append(1.0 - float(lost.sum()) / max(float(own.sum()), 1e-6))
    return max(found)


def _shift(one: "np.ndarray", other: "np.ndarray") -> float:
    """How far the whole picture moved between two frames, as a share of the width, by phase correlation at half size."""
    import numpy as np

    rows, columns = (n // 2 * 2 for n in one.shape)
    small = [(picture[:rows:2, :columns:2] + picture[1:rows:2, 1:columns:2]) / 2 for picture in (one, other)]
    if one.shape != other.shape or not all(p.std() > 0 for p in small):
        return 0.0
    window = np.outer(*(np.hanning(n) for n in small[0].shape))
    first, second = (np.fft.rfft2((p - p.mean()) * window) for p in small)
    cross = first * np.conj(second)
    peaks = np.fft.irfft2(cross / (np.abs(cross) + 1e-6), small[0].shape)
    place = np.unravel_index(peaks.argmax(), peaks.shape)
    down, along = (min(i, n - i) for i, n in zip(place, peaks.shape))
    return float(np.hypot(down, along)) / small[0].shape[1]


def _cells(grey: "np.ndarray") -> "np.ndarray":
    """Brightness of an 18 by 32 grid, for telling twins."""
    import numpy as np

    rows, columns = (np.linspace(0, n, cells + 1).astype(int)[:-1] for n, cells in zip(grey.shape, (18, 32)))
    sizes = np.outer(np.diff([*rows, grey.shape[0]]), np.diff([*columns, grey.shape[1]]))
    return np.add.reduceat(np.add.reduceat(grey, rows, axis=0), columns, axis=1) / np.maximum(1, sizes)


def _save(frame: "av.VideoFrame", folder: Path, number: int, width: int) -> str:
    import numpy as np
    from PIL import Image

    folder.mkdir(parents=True, exist_ok=True)
    # phones store the picture lying down, with a note by how much to turn it (degrees, counterclockwise)
    turn = round(frame.rotation / 90)
    share = min(1.0, width / (frame.height if turn % 2 else frame.width))
    small = frame.reformat(width=max(2, round(frame.width * share)), height=max(2, round(frame.height * share)), format="rgb24", interpolation="AREA")
    image = Image.fromarray(np.rot90(small.to_ndarray(), turn).copy())
    name = f"still-{number:03}.jpg"
    image.save(folder / name, quality=80, optimize=True)
    return name
