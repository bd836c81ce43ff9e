"""Files from outside are read up to a bound."""

from pathlib import Path

from .errors import BenchError


def read_bounded(path: Path, most: int) -> bytes:
    """A file's bytes; BenchError where it is longer than `most` or cannot be read."""
    try:
        with open(path, "rb") as file:
            raw = file.read(most + 1)
    except OSError as error:
        raise BenchError(f"cannot be read ({error.strerror})", path) from None
    if len(raw) > most:
        raise BenchError(f"longer than {most // 1024} KiB", path, "is this the right file?")
    return raw
