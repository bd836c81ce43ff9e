"""Counts and weights that the program carries, by name: tab-separated text, packed."""

import gzip
from collections.abc import Mapping
from pathlib import Path


def read_table(file: Path) -> dict[str, float]:
    rows = (line.rsplit("\t", 1) for line in gzip.decompress(file.read_bytes()).decode().splitlines())
    return {name: float(number) for name, number in rows}


def write_table(file: Path, table: Mapping[str, float]) -> None:
    """The same table makes the same file."""
    file.write_bytes(gzip.compress("".join(f"{name}\t{number}\n" for name, number in sorted(table.items())).encode(), mtime=0))
