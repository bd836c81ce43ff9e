"""A copy of the footage with the chapters in it: streams copied, nothing encoded again."""

import subprocess
import tempfile
from collections.abc import Iterable
from pathlib import Path

from ..errors import BenchError
from .chapters import Mark, ffmetadata

# containers that take chapters; footage in any other is copied into Matroska
_TAKES_CHAPTERS = {".mp4": "mp4", ".m4v": "mp4", ".mov": "mov", ".mkv": "matroska", ".webm": "webm"}


def embed_chapters(footage: list[Path], marks: Iterable[Mark], out: Path) -> list[Path]:
    """Write a chaptered copy of each clip into the folder `out`; returns the copies.

    Several clips make one episode: each gets the chapters that touch it, from its own beginning. BenchError where ffmpeg fails.
    """
    from ..hearing.footage import open_footage

    copies, offset, marks = [], 0.0, list(marks)
    for number, clip in enumerate(footage, 1):
        with open_footage(clip) as container:
            duration = (container.duration or 0) / 1e6
        end = offset + duration
        # a sliver shorter than a second at a seam is no chapter
        own = [Mark(max(m.start - offset, 0.0), min(m.end, end) - offset, m.title) for m in marks
               if min(m.end, end) - max(m.start, offset) > 1.0] if duration else marks
        suffix = clip.suffix.lower() if clip.suffix.lower() in _TAKES_CHAPTERS else ".mkv"
        copies.append(_remux(clip, own, out / (f"chaptered{suffix}" if len(footage) == 1 else f"chaptered-{number}{suffix}")))
        offset = end
    return copies


def _remux(clip: Path, marks: list[Mark], to: Path) -> Path:
    from ..hearing.footage import ffmpeg_binary, file_url, input_options

    part = to.with_name(f".{to.name}.part")
    with tempfile.TemporaryDirectory() as folder:
        meta = Path(folder) / "chapters.ffmetadata"
        meta.write_text(ffmetadata(marks), "utf-8")
        command = [
            ffmpeg_binary(), "-nostdin", "-hide_banner", "-loglevel", "error", "-y",
            *(arg for option, value in input_options().items() for arg in (f"-{option}", value)), "-i", file_url(clip),
            "-f", "ffmetadata", "-i", file_url(meta),
            "-map", "0:v?", "-map", "0:a?", "-map", "0:s?", "-c", "copy", "-map_metadata", "0", "-map_chapters", "1",
            "-f", _TAKES_CHAPTERS[to.suffix], file_url(part)]
        done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True, errors="replace")
    if done.returncode:
        part.unlink(missing_ok=True)
        last = (done.stderr.strip().splitlines() or ["ffmpeg failed"])[-1][-160:]
        raise BenchError(f"the chapters can't be put into a copy ({last})", clip, "leave embedding off, or save the footage as MP4 or MKV")
    part.replace(to)
    return to
