"""Where the picture of an episode is cut: another view from one frame to the next, or after black.

Key frames some seconds apart are compared first, small and grey. What lies between two of them is decoded only where they
look different, or where the encoder was surprised: a packet far larger than its neighbours, a key frame out of turn. A change
counts as a cut that is far larger than what moves around it, and that stays. Dissolves are not found.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

from ..errors import BenchError
from ..hearing.footage import Footage, open_footage

if TYPE_CHECKING:
    import av
    import numpy as np

WAY = 1               # of looking; raise it when the same footage would give other cuts

_EVERY = 8.0          # seconds, at least, between two key frames that are compared
_SIZE = 64, 36        # width and height at which frames are compared
_FULL = 8192 * 8192   # a picture of more pixels than this is not opened
_HELD = 24 << 20      # bytes of packets, and ...
_HELD_PACKETS = 2000  # ... how many, that are held of one stretch between key frames

_OTHER_VIEW = 0.6     # correlation of two pictures below which they show different views, ...
_FAR_OTHER = 0.4      # ... and of two key frames: hands, and a camera that drifts, get below the first within seconds
_SAME = 0.95          # correlation above which hardly anything is different, whatever moved
_BLOW = 7.0           # least change of brightness, of 255, that is a cut
_OVER = 3.0, 2.0      # how many times as large it is as what moves around it: in the same view, to another view
_AROUND = 0.7         # seconds to each side that count as around it
_NEXT = 0.5           # seconds, at most, from one frame to the next, where a change can be told from movement
_FLAT = 3.0           # spread of brightness below which a picture shows nothing
_BLACK = 26.0, 48.0   # mean and brightest spot of a black picture; video's black is 16 where it is not 0
_SPIKE = 2.2          # how many times as large as all but the largest tenth a packet is that stands out
_EARLY = 0.9          # a key frame that comes before this share of the usual distance was set there for a reason
_HUSH = 0.1, 0.25     # packets under this share of the usual one, for so many seconds, may be black

# What may be decoded between key frames, in pixels: so much at first, so much more for a second of footage. A picture that asks
# for more changes all the time, and so does one with more cuts than this: there cuts tell nothing, and none is given.
_PIXELS, _PIXELS_A_SECOND = 1.5e9, 3e6
_CUTS, _CUTS_A_SECOND, _MOST = 20, 0.1, 5000

Progress = Callable[[float, float], None]


class _Restless(Exception):
    """The picture changes all the time."""


def find_cuts(clips: list[Footage], progress: Progress | None = None) -> list[float]:
    """The moments of all cuts, in seconds of the episode, in order; where two clips join with different views, that too.

    Footage without picture, or whose picture can't be read, gives none, and so does a picture that changes all the time.
    """
    total, offset, cuts, last = sum(clip.duration for clip in clips), 0.0, [], None
    for clip in clips:
        looking = _Looking(clip, (lambda at: progress(min(offset + at, total), total)) if progress else lambda at: None)
        try:
            for at in looking.cuts():
                cuts.append(round(offset + at, 3))
                if len(cuts) > min(_MOST, _CUTS + _CUTS_A_SECOND * cuts[-1]):
                    return []
        except _Restless:
            return []
        looking.tell(clip.duration)
        if last and looking.first and _differ(last, looking.first):
            cuts.append(round(offset, 3))
        last, offset = looking.last or last, offset + clip.duration
    return sorted(set(cuts))


class _View:
    """A frame, small and grey. `at` in seconds of the clip."""

    def __init__(self, at: float, grey: "np.ndarray"):
        self.at, self.mean, self.spread = at, float(grey.mean()), float(grey.std())
        self.shape = grey - self.mean
        self.black = self.mean <= _BLACK[0] and float(grey.max()) <= _BLACK[1]

    def likeness(self, other: "_View") -> float:
        """Correlation, which does not mind the light, 0 to 1."""
        both = float((self.shape * other.shape).mean()) / (self.spread * other.spread)
        return min(1.0, max(0.0, both))

    def flat(self, other: "_View") -> bool:
        return min(self.spread, other.spread) < _FLAT


@dataclass
class _Group:
    """The packets from a key frame to the next one, and what they hold once decoded."""

    packets: list["av.Packet"]
    decode: Callable[[list["av.Packet"]], Iterator[_View]]

    @cached_property
    def key(self) -> _View | None:
        return next(self.decode(self.packets[:1]), None)

    @cached_property
    def views(self) -> list[_View]:
        """Every frame in order of time, those before the key frame left out, since they need the group before."""
        views: list[_View] = []
        for view in self.decode(self.packets):
            if view.at > views[-1].at if views else self.key and view.at >= self.key.at:
                views.append(view)
        return views


class _Looking:
    """One clip's picture, looked at once from its beginning."""

    def __init__(self, clip: Footage, tell: Callable[[float], None]):
        self.clip, self.tell, self.pixels = clip, tell, 0.0
        self.first: _View | None = None
        self.last: _View | None = None
        self.lit = False  # whether anything was seen yet that is not black

    def cuts(self) -> Iterator[float]:
        """Seconds of the clip, in order."""
        import av

        if not self.clip.has_video:
            return
        try:
            with open_footage(self.clip.path) as container:
                stream = container.streams.best("video")
                if stream is None or not 0 < stream.width * stream.height <= _FULL:
                    return
                self.codec, self.scale = stream.codec_context, float(stream.time_base)
                self.zero = (container.start_time or 0) / av.time_base
                self.codec.thread_count = 1
                self.codec.options = {"skip_loop_filter": "all"}
                before: list[_Group] = []
                here: list[_Group] = []
                for after in self._stretches(container.demux(stream)):
                    yield from self._within(before, here, after)
                    before, here = here, after
                yield from self._within(before, here, [])
        except (BenchError, av.FFmpegError, ValueError, OverflowError, MemoryError):
            return

    def _stretches(self, packets: Iterator["av.Packet"]) -> Iterator[list[_Group]]:
        """Groups in rows of some seconds. Of a group too large to hold, only the key frame."""
        groups: list[_Group] = []
        began, size = 0.0, 0
        for packet in packets:
            if not packet.size or packet.pts is None or not (groups or packet.is_keyframe):
                continue
            if packet.is_keyframe:
                at = self._time(packet)
                if groups and (at >= began + _EVERY or size > _HELD):
                    self.tell(at)
                    yield groups
                    groups = []
                if not groups:
                    began, size = at, 0
                groups.append(_Group([packet], self._views))
            elif size <= _HELD:
                groups[-1].packets.append(packet)
            size += packet.size
            if size > _HELD or len(groups[-1].packets) > _HELD_PACKETS:
                size = _HELD + 1  # the row ends with the next key frame
                del groups[-1].packets[1:]
        yield groups

    def _within(self, before: list[_Group], here: list[_Group], after: list[_Group]) -> Iterator[float]:
        """The cuts of one stretch, up to and with the key frame after it."""
        if not here or not here[0].key:
            return
        if self.first is None:
            self.first, self.lit = here[0].key, not here[0].key.black
        self.last = here[0].key
        row, start = [*before, *here, *after], len(before)
        if after:
            suspects = self._suspects(row, start, start + len(here))
        else:  # nothing to compare with comes after it
            suspects = iter(range(start, len(row)))
        for i in suspects:
            yield from self._steps(row, i)

    def _suspects(self, row: list[_Group], first: int, last: int) -> Iterator[int]:
        """The groups between two key frames in which there may be a cut."""
        one, other = row[first].key, row[last].key
        if one and other and not _differ(one, other, _FAR_OTHER):
            # by the looks of it the same view; the encoder may have been surprised nevertheless
            usual = _EARLY * max(len(g.packets) for g in row)
            if self.pixels > self._budget(one.at) / 2 or not any(len(g.packets) < usual or _stands_out(g.packets, self.scale) for g in row[first:last]):
                return
        if last == first + 1:
            yield first
        else:
            yield from self._suspects(row, first, (first + last) // 2)
            yield from self._suspects(row, (first + last) // 2, last)

    def _steps(self, row: list[_Group], i: int) -> Iterator[float]:
        """The cuts of one group, up to and with the key frame after it."""
        views = row[i].views
        if i + 1 < len(row) and row[i + 1].key:
            views = [*views, row[i + 1].key]
        elif views:
            self.last = views[-1]
        for a, b in pairwise(views):
            was_lit, self.lit = self.lit, self.lit or not b.black
            if b.at - a.at > _NEXT:
                continue
            if a.black and not b.black and was_lit:
                yield b.at
            elif not a.black and not b.black and _change(a, b) >= _BLOW and (a.flat(b) or a.likeness(b) <= _SAME) and self._is_blow(row, i, a, b):
                yield b.at

    def _is_blow(self, row: list[_Group], i: int, a: _View, b: _View) -> bool:
        """Whether the change between two frames is far larger than those just before and after, and stays."""
        near = [v for v in row[i].views if a.at - _AROUND <= v.at <= b.at + _AROUND]
        sides = [v for v in near if v.at <= a.at], [v for v in near if v.at >= b.at] or [b]
        if not _outdoes(a, b, *sides):
            return False  # before any other group is decoded for it
        earlier, later = sides
        for group in reversed(row[:i]):
            if not group.key or self._time(group.packets[-1]) < a.at - _AROUND:
                break
            earlier = [*(v for v in group.views if a.at - _AROUND <= v.at < earlier[0].at), *earlier]
        for group in row[i + 1:]:
            if not group.key or group.key.at > b.at + _AROUND:
                break
            later = [*later, *(v for v in group.views if later[-1].at < v.at <= b.at + _AROUND)]
        return _outdoes(a, b, earlier, later) and all(_change(a, v) >= _change(a, b) / 2 for v in later)

    def _budget(self, at: float) -> float:
        return _PIXELS + _PIXELS_A_SECOND * at

    def _time(self, packet: "av.Packet") -> float:
        return packet.pts * self.scale - self.zero

    def _views(self, packets: list["av.Packet"]) -> Iterator[_View]:
        """The frames of these packets, the first of which is a key frame; without those that are harmed."""
        import av

        self.codec.flush_buffers()
        for packet in [*packets, None]:
            try:
                frames = self.codec.decode(packet)
            except (av.FFmpegError, ValueError):
                continue
            for frame in frames:
                if len(packets) > 1:
                    self.pixels += frame.width * frame.height
                if frame.pts is None or frame.width * frame.height > _FULL:
                    continue
                at = frame.pts * self.scale - self.zero
                if not 0 <= at <= self.clip.duration + 1:
                    continue
                if self.pixels > self._budget(at):
                    raise _Restless
                small = frame.reformat(width=_SIZE[0], height=_SIZE[1], format="gray", interpolation="AREA")
                yield _View(at, small.to_ndarray().astype("float32"))


def _outdoes(a: _View, b: _View, earlier: list[_View], later: list[_View]) -> bool:
    moves = [_change(*pair) for side in (earlier, later) for pair in pairwise(side)]
    return _change(a, b) >= _OVER[_differ(a, b)] * max(moves, default=0.0)


def _change(a: _View, b: _View) -> float:
    """How much of one picture is not in the other, 0 to 255, whatever light they are in."""
    if a.flat(b):
        return abs(a.mean - b.mean) + abs(a.spread - b.spread)
    return (a.spread * b.spread * (1 - a.likeness(b) ** 2)) ** 0.5


def _differ(a: _View, b: _View, likeness: float = _OTHER_VIEW) -> bool:
    """Whether two pictures show different views."""
    if a.flat(b):
        return _change(a, b) > 2 * _BLOW or a.black != b.black
    return a.black != b.black or a.likeness(b) < likeness


def _stands_out(packets: list["av.Packet"], scale: float) -> bool:
    """Whether one of the packets after a key frame is far larger than the others, or a row of them far smaller than usual."""
    between = packets[1:]
    if len(between) < 8:
        return False
    sizes = sorted(p.size for p in between)
    if sizes[-1] > _SPIKE * sizes[int(0.9 * len(sizes))]:
        return True
    usual, quiet = sizes[len(sizes) // 2], 0.0
    for packet in between:
        quiet = quiet + (packet.duration or 0) * scale if packet.size < _HUSH[0] * usual else 0.0
        if quiet >= _HUSH[1]:
            return True
    return False
