"""Stills for the guide: near each step a sharp, steady picture of what is said, decoded only around the places that are asked for.

Key frames near the step are looked at first, because they cost least. Where none of them is as sharp as this footage usually is,
the stretch itself is decoded: from the key frame before it, or on from where the step before left off. Steps far from one another
are worked at side by side.
"""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from itertools import chain, groupby
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING

from ..cores import cores
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
_UNSETTLED = 0.1      # off the merit of a look beside one that is not clear

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
                here = [place for place in places if offset <= place.wanted < offset + length]
                if here and stream is not None and 0 < stream.width * stream.height <= _FULL:
                    usual = _usual_blur(_Reader(container), length)
                    take = partial(_taken, clip, offset, length, usual, settings.still_width)
                    shares = _shares(here, cores())
                    with ThreadPoolExecutor(len(shares)) as pool:
                        for step, moment, picture in chain.from_iterable(pool.map(take, shares)):
                            folder.mkdir(parents=True, exist_ok=True)
                            name = f"still-{len(stills) + 1:03}.jpg"
                            (folder / name).write_bytes(picture)
                            stills[step.id] = Still(name, round(moment, 3))
        except BenchError:
            continue
        offset += length
    return stills


@dataclass(frozen=True)
class _Place:
    """Where to look for a step's picture, in seconds of the episode: from, to, and best at."""

    step: Step
    start: float
    end: float
    wanted: float


def _places(steps: list[Step], begins: list[float]) -> list[_Place]:
    """In order of time. Steps told in one breath share its time in their order."""
    places = []
    for (start, end), told in groupby(sorted(steps, key=lambda s: (s.start, s.end)), key=lambda s: (s.start, s.end)):
        together = list(told)
        following = next((t for t in begins if t > end), float("inf"))
        last = min(end + _REACH, max(end + 1.0, following + _BEFORE))
        for i, step in enumerate(together):
            first, wanted = (start + (end - start) * n / len(together) for n in (i, i + 1))
            until = last if i + 1 == len(together) else wanted + _BEFORE
            places.append(_Place(step, first - _BEFORE, until, wanted if step.still is None else step.still))
    return sorted(places, key=lambda place: place.wanted)


def _shares(places: list[_Place], workers: int) -> list[list[_Place]]:
    """The places in at most so many runs of much the same length, parted only where no picture can be a twin of one on the other side."""
    shares: list[list[_Place]] = [[]]
    for before, place in zip([None, *places], places):
        if before and len(shares) < workers and len(shares[-1]) >= len(places) / workers and place.start - before.end > _FRESH:
            shares.append([])
        shares[-1].append(place)
    return shares


def _taken(clip: Path, offset: float, length: float, usual: float, width: int, places: list[_Place]) -> list[tuple[Step, float, bytes]]:
    """The steps that have a picture, its moment in the episode, and the picture as a JPEG file."""
    from ..hearing.footage import open_footage

    found, taken = [], []
    with closing(open_footage(clip)) as first, closing(open_footage(clip)) as second:
        source = _Source(_Reader(first), _Reader(second), usual)
        for place in places:
            if place.step.still is not None:
                look = source.exactly(place.step.still - offset)
            else:
                look = source.best(max(0.0, place.start - offset), min(place.end - offset, length), place.wanted - offset, taken)
            if look is not None:
                found.append((place.step, look.at + offset, _jpeg(look.frame, width)))
                taken = [*(t for t in taken if look.at - t.at < _FRESH), look]
    return found


def _usual_blur(reader: "_Reader", length: float) -> float:
    """How blurred this footage usually is."""
    seen = [next(reader.frames(length * (i + 0.5) / _SAMPLES), None) for i in range(_SAMPLES)]
    return median([_blur(reader.grey(f)) for f in seen if f is not None] or [0.0])


class _Reader:
    """One clip's pictures, read at one place at a time. Times are seconds from its beginning."""

    def __init__(self, container: "av.container.InputContainer"):
        from av.video.reformatter import VideoReformatter

        self.container, self.stream = container, container.streams.best("video")
        self.zero = float((self.stream.start_time or 0) * self.stream.time_base)
        self.stream.thread_type = "AUTO"
        self.scaler = VideoReformatter()  # kept: setting one up costs more than the scaling

    def time(self, frame: "av.VideoFrame") -> float:
        return frame.time - self.zero

    def grey(self, frame: "av.VideoFrame") -> "np.ndarray":
        """Brightness at the size that pictures are judged at, 0 to 255."""
        width = min(_WIDTH, frame.width)
        small = self.scaler.reformat(frame, width=width, height=max(2, round(frame.height * width / frame.width)), format="gray", threads=1)
        return small.to_ndarray().astype("float32")

    def key_before(self, at: float) -> float | None:
        """When the key frame at or before `at` shows; nothing is decoded."""
        import av

        try:
            self._seek(at)
            packet = next((p for p, _ in zip(self.container.demux(self.stream), range(_MOST_AFTER)) if p.is_keyframe and p.pts is not None), None)
        except (av.FFmpegError, ValueError, OverflowError):
            return None
        return float(packet.pts * self.stream.time_base) - self.zero if packet else None

    def frames(self, at: float, every: bool = False) -> Iterator["av.VideoFrame"]:
        """Frames from the key frame at or before `at`; none where the footage is broken there. Without `every`, those are left out
        that no other frame needs: about half the work."""
        import av

        try:
            self.stream.codec_context.skip_frame = "DEFAULT" if every else "NONREF"
            self._seek(at)
            for frame in self.container.decode(self.stream):
                if frame.width * frame.height > _FULL:
                    return
                if frame.time is not None:
                    yield frame
        except (av.FFmpegError, ValueError, OverflowError, MemoryError):
            return

    def _seek(self, at: float) -> None:
        self.container.seek(max(0, int((at + self.zero) / self.stream.time_base)), stream=self.stream, backward=True)


class _Source:
    """Looks at a clip: at single key frames with one reader, along stretches with the other, whose looks are kept for the next step."""

    def __init__(self, keys: _Reader, along: _Reader, usual: float):
        self.keys, self.along, self.usual = keys, along, usual
        self.looks: list[_Look] = []                       # along the stretch, from `since` on
        self.since, self.reached = float("inf"), 0.0       # seconds: what is decoded without a gap
        self.decoding: Iterator["av.VideoFrame"] = iter(())
        self.first: "av.VideoFrame | None" = None          # waits for its second frame
        self.held: "av.VideoFrame | None" = None           # decoded, and not yet asked for

    def best(self, start: float, end: float, wanted: float, taken: list[_Look]) -> _Look | None:
        """A clear look between `start` and `end`, near `wanted`, that is no twin of those taken before."""
        clear: list[_Look] = []
        for looks in chain(self._at_key_frames(start, end, wanted), self._along(start, end, wanted)):
            fresh = [look for look in looks if look.clear(self.usual) and not any(look.twin_of(t) for t in taken)]
            clear += fresh
            if any(look.good(self.usual) and self._settled(look) for look in fresh):
                break
        return max(clear, key=lambda look: look.merit(self.usual, wanted) - (0.0 if self._settled(look) else _UNSETTLED), default=None)

    def _settled(self, look: _Look) -> bool:
        """Not just before or after a stretch that is blurred or shaken: there the camera still comes to rest, or sets off."""
        at = next((i for i, known in enumerate(self.looks) if known is look), None)
        return at is None or all(known.clear(self.usual) for known in self.looks[max(0, at - 1): at + 2])

    def exactly(self, at: float) -> _Look | None:
        """The frame that shows at this moment, however it looks."""
        shown = None
        for count, frame in enumerate(self.keys.frames(at, every=True)):
            if shown is not None and self.keys.time(frame) > at + 0.001 or count > 8 * _MOST_DECODED:
                break
            shown = frame
        return self._judged(self.keys, shown, shown) if shown is not None else None

    def _at_key_frames(self, start: float, end: float, wanted: float) -> Iterator[list[_Look]]:
        """Looks at the key frames of a stretch, those nearest to `wanted` first."""
        found = {self.keys.key_before(start + (end - start) * (i + 1) / _MOMENTS) for i in range(_MOMENTS)}
        for key in sorted((k for k in found if k is not None and start <= k <= end), key=lambda k: abs(k - wanted)):
            frames = self.keys.frames(key + 0.001)
            first = second = next(frames, None)
            for _, second in zip(range(_MOST_AFTER), frames):
                if self.keys.time(second) >= self.keys.time(first) + _APART:
                    break
            if first is not None and start <= self.keys.time(first) <= end:
                yield [self._judged(self.keys, first, second)]

    def _along(self, start: float, end: float, wanted: float) -> Iterator[list[_Look]]:
        """Looks along a stretch, one every _EVERY seconds: all until shortly after `wanted`, then one by one to the end."""
        self._go_to(start)
        budget = _Budget()
        while self._next(wanted + _EVERY, budget):
            pass
        yield [look for look in self.looks if start <= look.at <= end]
        while look := self._next(end, budget):
            if start <= look.at <= end:
                yield [look]

    def _go_to(self, start: float) -> None:
        """Have all that is decoded from `start` on, or begin at the key frame before it, whichever is less work."""
        key = self.keys.key_before(start)
        if self.since <= start and (key is None or key <= self.reached):
            self.looks, self.since = [look for look in self.looks if look.at >= start], start
        else:
            self.decoding, self.looks, self.since, self.reached, self.first, self.held = self.along.frames(start), [], start, start, None, None

    def _next(self, until: float, budget: "_Budget") -> _Look | None:
        """The next look along the stretch; None where it would lie after `until`, or the footage or the budget ends."""
        while not budget.spent:
            frame, self.held = self.held or next(self.decoding, None), None
            if frame is None:
                return None
            at = self.along.time(frame)
            if at > until + _APART:
                self.held = frame
                return None
            budget.pay(frame)
            self.reached = max(self.reached, at)
            if self.first is not None and at >= self.along.time(self.first) + _APART:
                first, self.first = self.first, None
                self.looks.append(self._judged(self.along, first, frame))
                return self.looks[-1]
            if self.first is None and at >= max(self.since, self.looks[-1].at + _EVERY if self.looks else 0.0):
                self.first = frame
        return None

    def _judged(self, reader: _Reader, frame: "av.VideoFrame", later: "av.VideoFrame") -> _Look:
        import numpy as np

        first, second = reader.grey(frame), reader.grey(later)
        mean, spread = float(first.mean()), float(first.std())
        exposure = 1.0 - abs(mean - 118.0) / 128.0 - 2.0 * float(((first < 4) | (first > 251)).mean())
        dull = spread < 4.0 or not 12.0 <= mean <= 243.0
        blur = _blur(first)
        shift = _shift(first, second) if blur <= self.usual + _SOFTER else 1.0  # a soft picture is not taken, however still
        return _Look(reader.time(frame), blur, shift, float(np.abs(first - second).mean()), -1.0 if dull else exposure,
                     _cells(first), frame)


class _Budget:
    """What one stretch may cost: so many frames, and so many megapixels."""

    def __init__(self):
        self.frames, self.megapixels = _MOST_DECODED, float(_MOST_DECODED)

    @property
    def spent(self) -> bool:
        return self.frames <= 0 or self.megapixels <= 0

    def pay(self, frame: "av.VideoFrame") -> None:
        self.frames -= 1
        self.megapixels -= frame.width * frame.height / 1e6


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
    window = np.outer(*(np.hanning(n) for n in small[0].shape)).astype("float32")
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


def _jpeg(frame: "av.VideoFrame", width: int) -> bytes:
    import io

    import numpy as np
    from PIL import Image

    # phones store the picture lying down, with a note by how much to turn it (degrees, counterclockwise)
    turn = round(frame.rotation / 90)
    share = min(1.0, width / (frame.height if turn % 2 else frame.width))
    small = frame.reformat(width=max(2, round(frame.width * share)), height=max(2, round(frame.height * share)), format="rgb24", interpolation="AREA")
    file = io.BytesIO()
    Image.fromarray(np.rot90(small.to_ndarray(), turn).copy()).save(file, "JPEG", quality=80, optimize=True)
    return file.getvalue()
