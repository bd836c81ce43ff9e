"""The workspace on disk: its paths, its lock, and writes that a kill cannot leave half done."""

import hashlib
import json
import os
import re
import shutil
import socket
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timezone
from functools import cached_property
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from . import glossary, settings
from .bounded import read_bounded
from .errors import BenchError
from .hearing.footage import Footage
from .settings import Settings, plain_reason
from .trade import Glossary

ID = re.compile(r"[a-z0-9](?:[a-z0-9-]{0,78}[a-z0-9])?")
LARGEST_SOURCE = 4 * 1024 * 1024  # bytes of a source.json

GLOSSARY_FILE = "glossary.toml"
SETTINGS_FILE = "shop.toml"


class Clip(Footage):
    """One clip as it was when it was added. `changed` is its time of change in nanoseconds."""

    changed: int

    def is_there(self) -> bool:
        """The file still lies where it lay, and is the one that was added, by size and time of change."""
        try:
            stat = self.path.stat()
        except OSError:
            return False
        return (stat.st_size, stat.st_mtime_ns) == (self.size, self.changed)


class Source(BaseModel):
    """What an episode is made from: source.json."""

    model_config = ConfigDict(extra="forbid", populate_by_name=True)
    schema_: Literal["sideplate/source@1"] = Field("sideplate/source@1", alias="schema")
    title: str
    url: str | None = None
    footage: list[Clip] = []
    captions: str | None = None         # name of the copy in the episode's folder
    captions_sha256: str | None = None

    @property
    def fingerprint(self) -> str:
        """The same for the same clips in the same order; of the captions where there is no footage."""
        return "+".join(f.sha256 for f in self.footage) or f"captions:{self.captions_sha256}"


@dataclass(frozen=True)
class EpisodeFolder:
    """The paths of one episode in the shop."""

    path: Path

    @property
    def id(self) -> str:
        return self.path.name

    source_file = property(lambda self: self.path / "source.json")
    work = property(lambda self: self.path / "work")
    corrections = property(lambda self: self.path / "corrections.json")
    comments = property(lambda self: self.path / "comments.json")
    out = property(lambda self: self.path / "out")
    record = property(lambda self: self.out / "episode.json")

    def read_source(self) -> Source:
        raw = read_bounded(self.source_file, LARGEST_SOURCE)
        try:
            return Source.model_validate_json(raw)
        except ValidationError as error:
            raise BenchError(plain_reason(error, Source), self.source_file,
                             "put it right, or remove the episode's folder and add the footage again") from None

    def write_source(self, source: Source) -> None:
        write_atomically(self.source_file, source.model_dump_json(by_alias=True, indent=2) + "\n")

    def tidy(self) -> None:
        """Put away what a killed run left: half-written files go, a set caught between two renames comes back."""
        if not self.path.is_dir():
            return
        left = [p for p in self.path.iterdir() if p.name.startswith(".out-")]
        if not self.out.exists():
            for old in sorted(p for p in left if p.name.startswith(".out-old-")):
                os.replace(old, self.out)
                break
        for rest in left:
            shutil.rmtree(rest, ignore_errors=True)
        for folder in (self.path, self.work):
            for scrap in folder.glob(".*.tmp"):
                scrap.unlink(missing_ok=True)

    @contextmanager
    def new_out(self) -> Iterator[Path]:
        """A fresh folder to write the whole set into; it becomes `out/` when the block ends well, and goes when not."""
        fresh, old = (self.path / f".out-{kind}-{os.getpid()}" for kind in ("new", "old"))
        shutil.rmtree(fresh, ignore_errors=True)
        fresh.mkdir(parents=True)
        try:
            yield fresh
            for path in sorted(fresh.rglob("*"), reverse=True):
                _sync(path)
            _sync(fresh)
            if self.out.exists():
                os.rename(self.out, old)
            os.rename(fresh, self.out)
            _sync(self.path)
        except BaseException:
            if old.exists() and not self.out.exists():
                os.rename(old, self.out)
            raise
        finally:
            shutil.rmtree(fresh, ignore_errors=True)
            shutil.rmtree(old, ignore_errors=True)


@dataclass(frozen=True)
class Shop:
    """One workspace. Make one with `Shop.make`, open one with `Shop.open`."""

    root: Path

    @classmethod
    def make(cls, root: Path) -> "Shop":
        """A new shop; files that are there already stay. BenchError where `root` is a shop or not a folder."""
        if (root / SETTINGS_FILE).exists():
            raise BenchError("is a shop already", root, "add footage to it, or choose another folder")
        if root.exists() and not root.is_dir():
            raise BenchError("is a file, not a folder", root, "choose another name")
        (root / "episodes").mkdir(parents=True, exist_ok=True)
        if not (root / GLOSSARY_FILE).exists():
            write_atomically(root / GLOSSARY_FILE, glossary.TEMPLATE)
        write_atomically(root / SETTINGS_FILE, settings.template())
        return cls(root)

    @classmethod
    def open(cls, root: Path) -> "Shop":
        if not (root / SETTINGS_FILE).is_file():
            raise BenchError("is not a shop (no shop.toml)", root.absolute(),
                             "make one with: sideplate new DIR, and name it with --shop DIR or SIDEPLATE_SHOP")
        return cls(root)

    database = property(lambda self: self.root / "shop.db")

    @cached_property
    def settings(self) -> Settings:
        return settings.read_settings(self.root / SETTINGS_FILE)

    @cached_property
    def glossary(self) -> Glossary:
        path = self.root / GLOSSARY_FILE
        return glossary.read_glossary(path) if path.exists() else Glossary()

    @cached_property
    def taught(self) -> dict[str, str]:
        """What was heard and what was meant, as the corrections of all episodes teach it."""
        from . import corrections

        pairs: dict[str, str] = {}
        for episode in self.episodes():
            try:
                pairs |= corrections.taught(corrections.load(episode.corrections))
            except BenchError:
                pass  # told when that episode itself is brought up to date
        return pairs

    def folder(self, id: str) -> EpisodeFolder:
        """The folder of an id, there or not. BenchError where the id could lead anywhere else."""
        if not ID.fullmatch(id):
            raise BenchError("is not an episode id", id or '""', "use up to 80 small letters, digits and dashes")
        return EpisodeFolder(self.root / "episodes" / id)

    def episode(self, id: str) -> EpisodeFolder:
        """The folder of an episode that is there."""
        folder = self.folder(id)
        if folder.source_file.is_file():
            return folder
        import difflib

        ids = [e.id for e in self.episodes()]
        near = difflib.get_close_matches(id, ids, 1)
        raise BenchError("no such episode", id, f"did you mean {near[0]}?" if near else
                         f"episodes here: {', '.join(ids[:8])}{' …' if len(ids) > 8 else ''}" if ids else "add one with: sideplate add FOOTAGE")

    def episodes(self) -> list[EpisodeFolder]:
        """Every episode by id, those not finished yet too."""
        found = self.root / "episodes"
        return sorted((EpisodeFolder(p) for p in found.iterdir() if ID.fullmatch(p.name) and (p / "source.json").is_file()),
                      key=lambda e: e.id) if found.is_dir() else []

    def place_for(self, source: Source, id: str | None, name: str) -> tuple[EpisodeFolder, bool]:
        """Where this source goes: (folder, is it there already). `name` is what an id is made from where none is given.

        The same footage is the same episode. An id that other footage has gets a number, or is refused where the host chose it.
        """
        if id is not None:
            folder = self.folder(id)
            if not folder.source_file.is_file():
                return folder, False
            if folder.read_source().fingerprint != source.fingerprint:
                raise BenchError("another episode has this id", id, "choose another --id, or leave it out")
            return folder, True
        for folder in self.episodes():
            if folder.read_source().fingerprint == source.fingerprint:
                return folder, True
        base, number = slug(name), 1
        while (folder := self.folder(base if number == 1 else f"{base}-{number}")).path.exists():
            number += 1
        return folder, False

    @contextmanager
    def writing(self, doing: str) -> Iterator[None]:
        """Hold the shop for one writer. A second one gets a BenchError that says who has it; a dead one's claim is void."""
        from filelock import FileLock, Timeout

        # The claim is the operating system's lock, which ends with its process; the file beside it only tells who.
        holder = self.root / ".lock-holder.json"
        lock = FileLock(self.root / ".lock")
        try:
            lock.acquire(timeout=0)
        except Timeout:
            raise BenchError(f"in use by {_who(holder)}", self.root.absolute(), "wait until that is done, then run this again") from None
        except PermissionError:
            raise BenchError("cannot be written to", self.root.absolute(), "check who owns the folder") from None
        try:
            write_atomically(holder, json.dumps({
                "pid": os.getpid(), "host": socket.gethostname(), "since": datetime.now(timezone.utc).isoformat(timespec="seconds"),
                "doing": doing}) + "\n")
            yield
        finally:
            holder.unlink(missing_ok=True)
            lock.release()


def _who(holder: Path) -> str:
    try:
        told = json.loads(read_bounded(holder, 4096))
        since = datetime.fromisoformat(told["since"]).astimezone()
        return f"process {int(told['pid'])} on {str(told['host'])[:80]} since {since:%H:%M:%S} ({str(told['doing'])[:80]})"
    except (BenchError, ValueError, KeyError, TypeError):
        return "another process"


def slug(name: str) -> str:
    """An episode id from a title or a file's name: small letters, digits, dashes."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-") or "episode"


def write_atomically(path: Path, content: str | bytes) -> None:
    """Write a file so that it is the old one or the new one, whatever happens in between."""
    scrap = path.with_name(f".{path.name}.{os.getpid()}.tmp")
    try:
        with open(scrap, "wb") as file:
            file.write(content.encode("utf-8") if isinstance(content, str) else content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(scrap, path)
    except BaseException:
        scrap.unlink(missing_ok=True)
        raise
    _sync(path.parent)


def _sync(path: Path) -> None:
    """Have the disk keep a file's content, or a folder's names."""
    if path.is_symlink():
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def file_hash(path: Path) -> str:
    """SHA-256 of a file's content, in hex."""
    try:
        with open(path, "rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise BenchError(f"cannot be read ({error.strerror})", path) from None
