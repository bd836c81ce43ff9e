"""What has been heard so far, kept on disk as it is heard: a killed run goes on from its last whole line."""

import json
import os
from pathlib import Path
from typing import BinaryIO

from ..errors import BenchError


class Journal:
    """A file of JSON lines. The first names what it was heard from (`key`); a file of another key is begun anew.

    A torn last line, as a kill or a full disk leaves it, is cut off. Without a path nothing is kept.
    """

    def __init__(self, path: Path | None, key: str):
        self.lines: list[dict] = []  # what an earlier run has left
        self.file: BinaryIO | None = None
        self.path = path
        if path is None:
            return
        try:
            self._open(path, key)
        except OSError as error:
            raise self._trouble(error) from error

    def _open(self, path: Path, key: str) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        good, whole = 0, path.read_bytes() if path.exists() else b""
        for raw in whole.splitlines(keepends=True):
            try:
                line = json.loads(raw) if raw.endswith(b"\n") else None
            except ValueError:
                line = None
            if not isinstance(line, dict) or (not good and line.get("key") != key):
                break
            if good:
                self.lines.append(line)
            good += len(raw)
        self.file = path.open("r+b" if path.exists() else "w+b")
        self.file.truncate(good)
        self.file.seek(good)
        if not good:
            self.write({"key": key})

    def write(self, line: dict) -> None:
        """Add one line; when this returns, it is on the disk."""
        if not self.file:
            return
        try:
            self.file.write(json.dumps(line, ensure_ascii=False).encode() + b"\n")
            self.file.flush()
            os.fsync(self.file.fileno())
        except OSError as error:
            raise self._trouble(error) from error

    def _trouble(self, error: OSError) -> BenchError:
        return BenchError(f"what is heard can't be kept ({error.strerror or error})", self.path, "make room on the disk and run the same again")

    def close(self) -> None:
        if self.file:
            self.file.close()

    def __enter__(self) -> "Journal":
        return self

    def __exit__(self, *_) -> None:
        self.close()
