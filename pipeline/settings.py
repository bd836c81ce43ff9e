"""The channel's settings: types with defaults and descriptions, and shop.toml made from and read into them."""

import textwrap
import tomllib
from pathlib import Path
from typing import Annotated, Any, get_args

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from .arranging.settings import ChapterSettings
from .bounded import read_bounded
from .errors import BenchError
from .hearing.settings import HearingSettings
from .writing.settings import WritingSettings

LARGEST_FILE = 256 * 1024  # bytes of a settings or glossary file; anything longer is not one

Share = Annotated[float, Field(ge=0, le=1)]


class Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class MendingSettings(Section):
    """How boldly trade words heard wrong are put right."""

    threshold: Share = Field(0.5, description="mends at or above this confidence are made; those below are only suggested")


class Settings(Section):
    hearing: HearingSettings = HearingSettings()
    mending: MendingSettings = MendingSettings()
    chapters: ChapterSettings = ChapterSettings()
    writing: WritingSettings = WritingSettings()


def template() -> str:
    """The text of a fresh shop.toml: every key with its default and what it does."""
    import tomlkit

    doc = tomlkit.document()
    doc.add(tomlkit.comment("Settings of this shop. A key that is left out has the value that stands here at first."))
    for name, section in Settings.model_fields.items():
        doc.add(tomlkit.nl())
        doc.add(name, _table(section.annotation))
    return tomlkit.dumps(doc)


def _table(section: type[BaseModel]) -> "tomlkit.items.Table":
    import tomlkit

    table = tomlkit.table()
    for line in textwrap.wrap(" ".join((section.__doc__ or "").split()), 110):
        table.add(tomlkit.comment(line))
    nested = {key: field for key, field in section.model_fields.items() if _is_section(field.annotation)}
    for key, field in section.model_fields.items():
        if key not in nested:
            table.add(tomlkit.nl())
            for line in textwrap.wrap(field.description, 110):
                table.add(tomlkit.comment(line))
            table.add(key, field.default)
    for key, field in nested.items():
        table.add(tomlkit.nl())
        table.add(key, _table(field.annotation))
    return table


def _is_section(annotation: Any) -> bool:
    return isinstance(annotation, type) and issubclass(annotation, BaseModel)


def read_settings(path: Path) -> Settings:
    """Settings from shop.toml. Raises BenchError with one line that names the key and what is wrong with it."""
    try:
        return Settings.model_validate(read_toml(path))
    except ValidationError as error:
        raise BenchError(plain_reason(error, Settings), path) from None


def read_toml(path: Path) -> dict:
    """A TOML file's values; BenchError where it is too large, not UTF-8 or not TOML."""
    raw = read_bounded(path, LARGEST_FILE)
    try:
        return tomllib.loads(raw.decode("utf-8"))
    except UnicodeDecodeError:
        raise BenchError("not UTF-8 text", path, "save it as UTF-8") from None
    except tomllib.TOMLDecodeError as error:
        raise BenchError(f"not TOML: {error}", path) from None


def plain_reason(error: ValidationError, model: type[BaseModel] | None = None) -> str:
    """One mistake of a pydantic error as one line: where, what, and the nearest right key for an unknown one."""
    mistakes = error.errors(include_url=False)
    # a misspelt key explains the one that is missing
    first = next((m for m in mistakes if m["type"] == "extra_forbidden"), mistakes[0])
    where = "".join(f" {p + 1}" if isinstance(p, int) else f".{p}" for p in first["loc"])[1:200] or "the whole"
    if first["type"] == "extra_forbidden":
        return f'"{where}" is not a key here{_nearest(first["loc"], model)}'
    message = first["msg"].removeprefix("Value error, ")
    given = first.get("input")
    shown = "" if given is None or isinstance(given, (dict, list, BaseModel)) else f", not {str(given)[:60]!r}"
    return f'"{where}": {message[:1].lower()}{message[1:]}{shown}'


def _nearest(loc: tuple, model: type[BaseModel] | None) -> str:
    import difflib

    for part in loc[:-1]:
        if isinstance(part, str):
            field = model.model_fields.get(part) if model else None
            kinds = [field.annotation, *get_args(field.annotation)] if field else []
            model = next((kind for kind in kinds if _is_section(kind)), None)
    near = difflib.get_close_matches(str(loc[-1]), [f.alias or name for name, f in model.model_fields.items()], 1) if model else []
    return f'; did you mean "{near[0]}"?' if near else ""
