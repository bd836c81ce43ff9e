"""Small real footage: pieces of the practice episodes, cut and wrapped by ffmpeg when a test asks for them."""

import subprocess
from pathlib import Path

import pytest

from pipeline.hearing.footage import ffmpeg_binary

PRACTICE = Path(__file__).parents[2] / "sample_media" / "practice"


@pytest.fixture(scope="session")
def clips(tmp_path_factory):
    """`clips(name, *ffmpeg arguments)` makes a file once; inputs and codecs are the caller's."""
    folder = tmp_path_factory.mktemp("clips")

    def make(name: str, *arguments: str) -> Path:
        path = folder / name
        if not path.exists():
            subprocess.run([ffmpeg_binary(), "-nostdin", "-loglevel", "error", "-y", *map(str, arguments), f"file:{path}"], check=True)
        return path

    return make


@pytest.fixture(scope="session")
def talk(clips):
    """`talk(start, seconds)`: that much of the spinning reel episode, as WAV."""
    footage = PRACTICE / "spinning-reel" / "footage.ogg"
    return lambda start, seconds: clips(f"talk-{start}-{seconds}.wav", "-ss", start, "-t", seconds, "-i", footage, "-ar", "16000", "-ac", "1")
