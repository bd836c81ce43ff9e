"""Stills for the guide: near each step the frame that shows most, decoded only around the places that are asked for."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ..record import Step
from .settings import WritingSettings

if TYPE_CHECKING:
    import av.container
    import numpy as np

_REACH = 4.0         # seconds after a step's end that still belong to it: the hand does what the voice has said
_BEFORE = 1.0        # seconds before a step's start that may still show it
_MOMENTS = 5         # places looked at for one step
_FRAMES = 3          # frames decoded at each place: the first as a candidate, the rest to see whether the picture is steady
_MOST_DECODED = 400  # frames decoded from a key frame before a place is given up
_SMALL = 320         # width at which frames are judged
_TWIN = 6            # bits of 64: two stills closer than this show the same
_MOST_PIXELS = 8192 * 8192
# what is worth a picture, dearest first, where a guide has more steps than stills
_SHOWS = ("remove", "install", "align", "inspect", "mark", "repair", "replace", "adjust", "lubricate", "set aside", "loosen", "measure",
          "tighten", "test", "degrease", "clean", "dry")


@dataclass(frozen=True)
class _Candidate:
    score: float
    look: int  # perceptual hash, 64 bits
    picture: "np.ndarray"


def take_stills(steps: list[Step], footage: list[Path], folder: Path, settings: WritingSettings) -> dict[str, str]:
    """JPEG files in `folder`, by step id: the file's name. Steps without a good picture, or a twin of the one before, have none.

    Footage without picture, or that can't be read, gives none: a guide looks right without stills.
    """
    from ..errors import BenchError
    from ..hearing.footage import open_footage

    shown = sorted((s for s in steps if not s.undone), key=lambda s: (_SHOWS.index(s.do), -s.confidence))[: settings.most_stills]
    shown.sort(key=lambda s: s.start)
    names: dict[str, str] = {}
    last_look: int | None = None
    offset = 0.0
    for clip in footage:
        try:
            with open_footage(clip) as container:
                length = (container.duration or 0) / 1e6
                stream = container.streams.best("video")
                if stream is not None and 0 < stream.width * stream.height <= _MOST_PIXELS:
                    for step in (s for s in shown if offset <= s.start < offset + length):
                        best = _best(container, stream, step.start - offset, min(step.end + _REACH - offset, length), last_look)
                        if best is not None:
                            names[step.id] = _save(best.picture, folder, len(names) + 1, settings.still_width)
                            last_look = best.look
        except BenchError:
            continue
        offset += length
    return names


def _best(container, stream, start: float, end: float, last_look: int | None) -> _Candidate | None:
    """The best of the key frames of a step's time; where there is none, the picture at its middle."""
    candidates, seen = [], set()
    for i in range(_MOMENTS):
        at, frames = _frames_from(container, stream, start + (end - start) * (i + 1) / _MOMENTS, exact=False)
        if frames and at not in seen and at >= start - _BEFORE:
            candidates.append(_judge(frames))
        seen.add(at)
    if not candidates:
        candidates = [_judge(_frames_from(container, stream, (start + end) / 2, exact=True)[1])]
    fresh = [c for c in candidates if c and (last_look is None or (c.look ^ last_look).bit_count() >= _TWIN)]
    return max(fresh, key=lambda c: c.score, default=None)


def _frames_from(container: "av.container.InputContainer", stream, at: float, exact: bool) -> tuple[float, list["np.ndarray"]]:
    """Neighbouring frames as RGB arrays, up to _FRAMES: from the key frame at or before `at`, or from `at` itself; with the first one's time."""
    import av
    import numpy as np

    begins, frames, first = float((stream.start_time or 0) * stream.time_base), [], -1.0
    try:
        container.seek(max(0, int((at + begins) / stream.time_base)), stream=stream, backward=True)
        for decoded, frame in enumerate(container.decode(stream)):
            if decoded > _MOST_DECODED or frame.width * frame.height > _MOST_PIXELS:
                break
            if frame.time is None or exact and frame.time - begins < at - 0.001:
                continue
            if not frames:
                first = frame.time - begins
            # phones store the picture lying down, with a note by how much to turn it (degrees, counterclockwise)
            frames.append(np.rot90(frame.to_ndarray(format="rgb24"), round(frame.rotation / 90)))
            if len(frames) == _FRAMES:
                break
    except (av.FFmpegError, ValueError, OverflowError, MemoryError):
        pass
    return first, frames


def _judge(frames: list["np.ndarray"]) -> _Candidate | None:
    """Score by sharpness, steadiness and exposure; None for a black, white or empty picture."""
    import numpy as np

    if not frames:
        return None
    grey = [_grey(f) for f in frames]
    first = grey[0]
    mean, spread = float(first.mean()), float(first.std())
    if spread < 4.0 or mean < 12.0 or mean > 243.0:
        return None
    laplacian = 4 * first[1:-1, 1:-1] - first[:-2, 1:-1] - first[2:, 1:-1] - first[1:-1, :-2] - first[1:-1, 2:]
    sharp = float(np.log1p(laplacian.var()))
    moved = max((float(np.abs(a - b).mean()) for a, b in zip(grey, grey[1:])), default=0.0)
    exposure = 1.0 - abs(mean - 118.0) / 128.0
    clipped = float(((first < 4) | (first > 251)).mean())
    return _Candidate(sharp + 1.5 * exposure - 0.25 * moved - 2.0 * clipped, _look(first), frames[0])


def _grey(picture: "np.ndarray") -> "np.ndarray":
    """Brightness at a small size, float, 0 to 255."""
    import numpy as np

    step = max(1, picture.shape[1] // _SMALL)
    rows, columns = picture.shape[0] // step * step, picture.shape[1] // step * step
    small = picture[:rows, :columns].reshape(rows // step, step, columns // step, step, 3).mean(axis=(1, 3))
    return small @ np.array([0.299, 0.587, 0.114])


def _look(grey: "np.ndarray") -> int:
    """Difference hash: 64 comparisons of neighbouring cells of a 9 by 8 grid."""
    import numpy as np

    rows = np.array_split(np.arange(grey.shape[0]), 8)
    columns = np.array_split(np.arange(grey.shape[1]), 9)
    cells = np.array([[grey[np.ix_(r, c)].mean() if len(r) and len(c) else 0.0 for c in columns] for r in rows])
    return int("".join("1" if bit else "0" for bit in (cells[:, 1:] > cells[:, :-1]).ravel()), 2)


def _save(picture: "np.ndarray", folder: Path, number: int, width: int) -> str:
    from PIL import Image

    folder.mkdir(parents=True, exist_ok=True)
    image = Image.fromarray(picture.copy())
    if image.width > width:
        image = image.resize((width, max(1, round(image.height * width / image.width))), Image.LANCZOS)
    name = f"still-{number:03}.jpg"
    image.save(folder / name, quality=80, optimize=True)
    return name
