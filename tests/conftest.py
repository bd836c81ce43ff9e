"""What several tests need: caption files of invented talk, and the command as a process of its own."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PRACTICE = ROOT / "sample_media" / "practice"

TALK = [
    "Welcome back to the bench, today it is a Quillstone Dabchick 20.",
    "The same service covers the Quillstone Dabchick 30, the insides are identical.",
    "Take out the four side plate screws with a small screwdriver.",
    "Now lift off the side plate and pull the spool.",
    "Clean the drag washers with a rag.",
    "Put a little grease on the drag washers.",
    "The long screw goes in the bottom hole.",
    "Put the spool back in and fit the side plate.",
    "Tighten the four side plate screws.",
    "Thanks for watching, see you next time.",
]


def clock(seconds: float) -> str:
    return f"{int(seconds) // 3600:02d}:{int(seconds) // 60 % 60:02d}:{seconds % 60:06.3f}"


def vtt(lines: list[str], every: float = 6.0, at: float = 0.0) -> str:
    """A caption file: one cue a line, a new one each `every` seconds, all of it moved by `at`."""
    cues = [f"{clock(at + i * every)} --> {clock(at + (i + 0.9) * every)}\n{line}\n" for i, line in enumerate(lines)]
    return "WEBVTT\n\n" + "\n".join(cues)


@pytest.fixture
def talk(tmp_path):
    """Write a caption file and give its path."""
    def write(lines: list[str] = TALK, name: str = "talk.vtt", **how) -> Path:
        path = tmp_path / name
        path.write_text(vtt(lines, **how), "utf-8")
        return path

    return write


@pytest.fixture
def shop(tmp_path):
    from pipeline.shop import Shop

    return Shop.make(tmp_path / "shop")


def sideplate(*args: str | Path, cwd: Path | None = None, **env: str) -> subprocess.CompletedProcess:
    """Run the command as a person would; output as text."""
    return subprocess.run(command(*args), cwd=cwd, env=surroundings(**env), capture_output=True, text=True, timeout=300)


def command(*args: str | Path) -> list[str]:
    return [sys.executable, "-m", "pipeline.cli", *map(str, args)]


def surroundings(**env: str) -> dict[str, str]:
    return os.environ | {"PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"} | env
