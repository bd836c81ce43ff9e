"""Footage files: what they hold, and their sound as a stream of samples.

Names and contents come from outside. Every file is opened as `file:` and an absolute path, so that no name is taken
for an option, a protocol or a picture pattern; no format is opened that would lead ffmpeg on to other files.
"""

import hashlib
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import BaseModel

from ..errors import BenchError

if TYPE_CHECKING:
    import av.container
    import numpy as np

RATE = 16_000  # samples a second, what the speech models take
BLOCK = 30 * RATE
PROTOCOLS = "file,pipe"
# formats that name other files or streams, or that make "footage" of any text or bytes
NOT_FOOTAGE = {"hls", "applehttp", "dash", "imf", "concat", "webm_dash_manifest", "sdp", "rtsp", "rtp", "sap", "lavfi", "image2", "image2pipe",
               "tty", "data", "rawvideo", "vapoursynth", "avisynth", "libgme", "ffmetadata", "mpegtsraw", "alsa", "fbdev", "v4l2",
               "video4linux2", "x11grab", "kmsgrab", "pulse", "oss", "jack", "iec61883", "libcdio", "xcbgrab"}


class FootageError(BenchError):
    """A footage file can't be used."""


class Footage(BaseModel):
    """One clip. `duration` in seconds, `size` in bytes, `title` as the container gives it (hostile text, like the name)."""

    path: Path
    duration: float
    has_audio: bool
    has_video: bool
    title: str
    size: int
    sha256: str


def ffmpeg_binary() -> str:
    """The system's ffmpeg, or the one that imageio-ffmpeg brings."""
    found = shutil.which("ffmpeg")
    if found:
        return found
    import imageio_ffmpeg

    try:
        return imageio_ffmpeg.get_ffmpeg_exe()
    except RuntimeError:
        raise FootageError("there is no ffmpeg on this machine", what_to_do="install ffmpeg") from None


@cache
def allowed_formats() -> str:
    """ffmpeg's `format_whitelist`: every format that PyAV's library knows, less those that lead elsewhere."""
    import av

    return ",".join(sorted(name for name in av.formats_available if not NOT_FOOTAGE & set(name.split(","))))


def input_options() -> dict[str, str]:
    """Options for opening a file from outside, alike for av (`options=`) and for ffmpeg (before its `-i`)."""
    return {"protocol_whitelist": PROTOCOLS, "format_whitelist": allowed_formats()}


def file_url(path: Path) -> str:
    """The file's name as ffmpeg can't misread it."""
    return f"file:{os.path.abspath(path)}"


def open_footage(path: Path) -> "av.container.InputContainer":
    """Open with av, safely; the caller closes it. FootageError in one line where that fails."""
    import av

    path = Path(path)
    try:
        if path.is_dir():
            raise FootageError("this is a folder", path, "name the footage files in it, in order")
        if path.exists() and not path.is_file():
            raise FootageError("this is not a file", path, "name a footage file")
        with path.open("rb") as file:
            if not file.read(1):
                raise FootageError("the file is empty (zero bytes)", path, "copy it again from the camera")
    except FileNotFoundError:
        raise FootageError("there is no such file", path, "check the name") from None
    except PermissionError:
        raise FootageError("the file can't be read: no permission", path, "give yourself the right to read it") from None
    except (OSError, ValueError) as error:
        raise FootageError(f"the file can't be read ({getattr(error, 'strerror', None) or error})", path, "check the name and the disk") from None
    try:
        return av.open(file_url(path), options=input_options(), metadata_errors="replace")
    except (av.FFmpegError, ValueError, OSError):
        raise FootageError("this is no footage that ffmpeg can read, or it breaks off before its index", path,
                           "copy it again from the camera, or save it as MP4") from None


def probe(path: Path) -> Footage:
    """What a clip holds. FootageError where it is no footage; a clip without sound is not an error here."""
    path = Path(path)
    with open_footage(path) as container:
        audio, video = _streams(container)
        if not audio and not video:
            raise FootageError("this holds neither sound nor picture", path, "name a footage file; a caption file goes with --captions")
        title = " ".join(container.metadata.get("title", "").split())[:300]
        duration = container.duration / 1e6 if container.duration and container.duration > 0 else _last_moment(container, audio or video)
    return Footage(path=Path(os.path.abspath(path)), duration=round(duration, 3), has_audio=bool(audio), has_video=bool(video),
                   title=title, size=path.stat().st_size, sha256=file_sum(path))


def file_sum(path: Path) -> str:
    """SHA-256 of a file, read in pieces."""
    with Path(path).open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def sound(footage: Footage) -> Iterator["np.ndarray"]:
    """The clip's sound in blocks of float32 mono samples at 16 kHz, from the clip's own beginning, gaps kept as silence.

    FootageError where there is no sound track, or where the sound breaks off long before its declared end.
    """
    import ffmpeg
    import numpy as np

    with open_footage(footage.path) as container:
        audio, _ = _streams(container)
        if not audio:
            raise FootageError("this clip has no sound track", footage.path, "use the clip with the host's voice, or give captions with --captions")
        index = audio.index
        declared = float(audio.duration * audio.time_base) if audio.duration else 0.0
    command = (
        ffmpeg.input(file_url(footage.path), **input_options())
        .output("pipe:", map=f"0:{index}", format="s16le", ac=1, af=f"aresample={RATE}:async=1:first_pts=0")
        .global_args("-nostdin", "-hide_banner", "-loglevel", "error")
        .compile(cmd=ffmpeg_binary())
    )
    samples = 0
    with tempfile.TemporaryFile() as complaints:
        process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=complaints)
        try:
            while block := process.stdout.read(2 * BLOCK):
                block = np.frombuffer(block[: len(block) // 2 * 2], np.int16)
                samples += len(block)
                # whole numbers first, as faster-whisper decodes for itself: the model hears other words for a millionth's difference
                yield block.astype(np.float32) / 32768
            status = process.wait()
        finally:
            process.stdout.close()
            if process.poll() is None:
                process.kill()
            process.wait()
        complaints.seek(0)
        reason = complaints.read(4000).decode("utf-8", "replace").strip()
    if status < 0:
        raise FootageError("ffmpeg was stopped in the middle of decoding", footage.path, "run the same again; what was heard is kept")
    if not samples and (status or reason):
        raise FootageError(f"the sound can't be decoded ({reason.splitlines()[-1][-120:] if reason else 'ffmpeg failed'})", footage.path,
                           "save the clip as MP4 or WAV and try again")
    if not samples:
        raise FootageError("the sound track is empty (0 seconds)", footage.path, "copy it again from the camera")
    if samples / RATE < 0.95 * declared - 2:
        raise FootageError(f"the file breaks off: its sound should last {_clock(declared)} and ends at {_clock(samples / RATE)}", footage.path,
                           "copy it again from the camera")


def _streams(container: "av.container.InputContainer"):
    """The sound track that players would take, and the picture track (a cover picture is none)."""
    audio = container.streams.best("audio")
    video = container.streams.best("video")
    if video is not None and "attached_pic" in _dispositions(video):
        video = None
    return audio, video


def _dispositions(stream) -> str:
    return str(stream.disposition).lower()


def _last_moment(container: "av.container.InputContainer", stream) -> float:
    """The end of the last packet, for formats that don't declare a duration."""
    import av

    end = 0.0
    try:
        for packet in container.demux(stream):
            if packet.pts is not None:
                end = max(end, float((packet.pts + (packet.duration or 0) - (stream.start_time or 0)) * packet.time_base))
    except av.FFmpegError:
        pass
    return end


def _clock(seconds: float) -> str:
    minutes, seconds = divmod(int(seconds), 60)
    return f"{minutes // 60}:{minutes % 60:02d}:{seconds:02d}" if minutes >= 60 else f"{minutes}:{seconds:02d}"
