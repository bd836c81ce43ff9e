"""A stream of samples cut into windows of some minutes, each at its quietest place.

A cut depends on nothing but the samples after the last cut, never on how the stream comes in blocks. So a run that goes
on from any cut makes the same windows as one that was never stopped, and memory stays flat over hours.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from .footage import RATE

if TYPE_CHECKING:
    import numpy as np

GRAIN = RATE // 50  # samples whose loudness is measured as one
QUIET = 25  # grains that a cut wants to have quiet around it: half a second


@dataclass
class Window:
    """The samples of a clip from `start` to before `end`."""

    start: int
    end: int
    audio: "np.ndarray"


def windows(blocks: Iterable["np.ndarray"], longest: int, start: int = 0) -> Iterator[Window]:
    """Cut a clip's blocks (float32, 16 kHz, from its sample 0) into windows of half of `longest` samples to all of it.

    Only the clip's last window may be shorter. `start` is where to begin: 0 or a former window's end.
    """
    import numpy as np

    before, held = start, np.zeros(0, np.float32)
    for block in blocks:
        fresh = block[before:]
        before = max(before - len(block), 0)
        held = np.concatenate([held, fresh])
        while len(held) > longest:
            cut = _quietest(held[:longest])
            yield Window(start, start + cut, held[:cut])
            start, held = start + cut, held[cut:]
    if held.size:
        yield Window(start, start + len(held), held)


def _quietest(audio: "np.ndarray") -> int:
    """The middle of the quietest half second in the later half."""
    import numpy as np

    half = len(audio) // 2
    grains = audio[half : half + (len(audio) - half) // GRAIN * GRAIN].reshape(-1, GRAIN)
    sums = np.concatenate([[0.0], np.cumsum(np.square(grains, dtype=np.float64).mean(axis=1))])
    around = sums[QUIET:] - sums[:-QUIET]
    return half + (int(around.argmin()) + QUIET // 2) * GRAIN
