"""The channel's settings: types with defaults and descriptions, and shop.toml made from and read into them."""

import tomllib
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from .errors import BenchError

LARGEST_FILE = 256 * 1024  # bytes of a settings or glossary file; anything longer is not one

Share = Annotated[float, Field(ge=0, le=1)]


class Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class ChannelSettings(Section):
    """Who publishes. Printed on guides and pages; leave empty to print nothing."""

    name: str = Field("", max_length=200, description="the channel's name")
    footer: str = Field("", max_length=500, description="a line at the foot of every guide and page")


class HearingSettings(Section):
    """How the talk is heard."""

    model: str = Field("base", min_length=1, max_length=500,
                       description='a speech model\'s name ("base", "tiny", or any larger one that can be fetched) or a folder that holds one')
    language: str = Field("en", pattern=r"^[a-z]{2,3}$", description="language of the talk; reading knows English")
    device: Literal["auto", "cpu", "cuda"] = Field("auto", description='where the model runs: "auto", "cpu" or "cuda"')
    compute_type: str = Field("default", pattern=r"^[a-z0-9_]{1,20}$",
                              description='arithmetic of the model: "default" picks what suits the device, "int8" is the lightest')
    beam_size: int = Field(5, ge=1, le=20, description="how many readings are kept in mind at once; more is slower")
    threads: int = Field(0, ge=0, le=256, description="processor threads; 0 takes what the machine has")


class MendingSettings(Section):
    """How boldly trade words heard wrong are put right."""

    threshold: Share = Field(0.75, description="mends at or above this confidence are made; those below are only suggested")


class ChapterSettings(Section):
    """How chapter titles are written."""

    title_case: Literal["sentence", "title"] = Field(
        "sentence", description='"sentence": Opening the gear side; "title": Opening the Gear Side')


class VideoHostSettings(Section):
    """What the video host accepts. The figures are common practice of video hosts; put in those of yours."""

    min_chapters: int = Field(3, ge=1, le=100, description="fewer chapters than this are not shown by the host")
    min_chapter_seconds: float = Field(10.0, ge=0, le=600, description="chapters shorter than this are joined to the one before")
    max_chapter_title: int = Field(100, ge=10, le=1000, description="longest chapter title, in characters")
    max_description: int = Field(5000, ge=500, le=100_000, description="longest description, in characters")


class CaptionSettings(Section):
    """How captions are laid out."""

    max_line: int = Field(42, ge=16, le=100, description="longest line, in characters")
    max_lines: int = Field(2, ge=1, le=4, description="lines a caption")
    max_chars_per_second: float = Field(20.0, ge=5, le=60, description="fastest reading speed, in characters a second")
    min_seconds: float = Field(1.0, ge=0.2, le=5, description="shortest time on screen")
    max_seconds: float = Field(7.0, ge=2, le=20, description="longest time on screen")
    min_gap: float = Field(0.08, ge=0, le=1, description="pause between two captions, in seconds")


class GuideSettings(Section):
    """How the printable guide looks."""

    paper: Literal["a4", "letter"] = Field("a4", description='paper: "a4" or "letter"')
    stills: bool = Field(True, description="a picture from the footage beside steps")
    max_stills: int = Field(40, ge=0, le=500, description="at most so many pictures a guide")
    min_confidence: Share = Field(0.3, description="steps below this confidence stay out of the guide (they stay in the record)")


class Settings(Section):
    channel: ChannelSettings = ChannelSettings()
    hearing: HearingSettings = HearingSettings()
    mending: MendingSettings = MendingSettings()
    chapters: ChapterSettings = ChapterSettings()
    video_host: VideoHostSettings = VideoHostSettings()
    captions: CaptionSettings = CaptionSettings()
    guide: GuideSettings = GuideSettings()


def template() -> str:
    """The text of a fresh shop.toml: every key with its default and what it does."""
    import tomlkit

    doc = tomlkit.document()
    doc.add(tomlkit.comment("Settings of this shop. A key that is left out has the value that stands here at first."))
    for name, section in Settings.model_fields.items():
        table = tomlkit.table()
        table.add(tomlkit.comment(section.annotation.__doc__.strip()))
        for key, field in section.annotation.model_fields.items():
            table.add(tomlkit.nl())
            table.add(tomlkit.comment(field.description))
            table.add(key, field.default)
        doc.add(tomlkit.nl())
        doc.add(name, table)
    return tomlkit.dumps(doc)


def read_settings(path: Path) -> Settings:
    """Settings from shop.toml. Raises BenchError with one line that names the key and what is wrong with it."""
    return _settings(read_toml(path), path)


def _settings(values: dict, path: Path) -> Settings:
    try:
        return Settings.model_validate(values)
    except ValidationError as error:
        raise BenchError(plain_reason(error, Settings), path) from None


def read_toml(path: Path) -> dict:
    """A TOML file's values; BenchError where it is too large, not UTF-8 or not TOML."""
    try:
        with open(path, "rb") as file:
            raw = file.read(LARGEST_FILE + 1)
    except OSError as error:
        raise BenchError(f"cannot be read ({error.strerror})", path) from None
    if len(raw) > LARGEST_FILE:
        raise BenchError(f"longer than {LARGEST_FILE // 1024} KiB", path, "is this the right file?")
    try:
        return tomllib.loads(raw.decode("utf-8"))
    except UnicodeDecodeError:
        raise BenchError("not UTF-8 text", path, "save it as UTF-8") from None
    except tomllib.TOMLDecodeError as error:
        raise BenchError(f"not TOML: {error}", path) from None


def plain_reason(error: ValidationError, model: type[BaseModel] | None = None) -> str:
    """The first mistake of a pydantic error as one line: where, what, and the nearest right key for an unknown one."""
    first = error.errors(include_url=False)[0]
    where = ".".join(str(p) for p in first["loc"]) or "the whole"
    if first["type"] == "extra_forbidden":
        return f'"{where}" is not a key here{_nearest(first["loc"], model)}'
    message = first["msg"].removeprefix("Value error, ")
    given = first.get("input")
    shown = "" if isinstance(given, (dict, list, BaseModel)) else f", not {str(given)[:60]!r}"
    return f'"{where}": {message[:1].lower()}{message[1:]}{shown}'


def _nearest(loc: tuple, model: type[BaseModel] | None) -> str:
    import difflib

    for part in loc[:-1]:
        model = model.model_fields[part].annotation if model and part in model.model_fields else None
    near = difflib.get_close_matches(str(loc[-1]), list(model.model_fields), 1) if model else []
    return f'; did you mean "{near[0]}"?' if near else "; take it out or see the names in a fresh shop.toml"
