"""glossary.toml: the channel's own words, to the types that mending and reading use."""

from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from .errors import BenchError
from .settings import plain_reason, read_toml
from .trade import Glossary, Group, Term

Words = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=80, pattern=r"^[^\x00-\x1f\x7f]+$")]
MOST = 2000  # entries of one kind

TEMPLATE = """\
# The channel's own words. What stands here is known before an episode is heard.
# Take the # away from an example and write your own words.

# Words that always stay as they are heard, and mends that you never want.

# leave = ["the growler", "lip line"]

# Makers, and their models. Other ways to say a name go into `also`.

# [[maker]]
# name = "Brindock"
# also = ["Brendock"]

# [[model]]
# maker = "Brindock"
# name = "Tamsel 12"
# also = ["the little Tamsel"]

# Parts, tools and supplies that you call by names of your own: the plain name, and the others.

# [[part]]
# name = "click tongue"
# also = ["clacker"]

# [[tool]]
# name = "cap key"
# also = ["the ugly wrench"]

# [[supply]]
# name = "drag grease"
# also = ["the blue stuff"]

# What the speech model hears, and what was meant.

[hear_as]
# "bevel washer" = "belleville washer"
"""


class _Entry(BaseModel):
    model_config = ConfigDict(extra="forbid", str_strip_whitespace=True)
    name: Words
    also: list[Words] = Field([], max_length=50)


class _Model(_Entry):
    maker: Words | None = None


class _File(BaseModel):
    model_config = ConfigDict(extra="forbid")
    maker: list[_Entry] = Field([], max_length=MOST)
    model: list[_Model] = Field([], max_length=MOST)
    part: list[_Entry] = Field([], max_length=MOST)
    tool: list[_Entry] = Field([], max_length=MOST)
    supply: list[_Entry] = Field([], max_length=MOST)
    hear_as: dict[Words, Words] = Field({}, max_length=MOST)
    leave: list[Words] = Field([], max_length=MOST)


def read_glossary(path: Path) -> Glossary:
    """The shop's glossary. BenchError with one line that names the entry and what is wrong with it."""
    try:
        file = _File.model_validate(read_toml(path))
    except ValidationError as error:
        raise BenchError(plain_reason(error, _File), path) from None
    groups: list[tuple[Group, list[_Entry]]] = [("part", file.part), ("tool", file.tool), ("supply", file.supply)]
    models = {(m.maker or "", m.name): None for m in file.model}
    # another way to say a maker's or a model's name is something to hear as that name
    said = {other: entry.name for entry in (*file.maker, *file.model) for other in entry.also}
    return Glossary(
        makers=tuple(dict.fromkeys([m.name for m in file.maker] + [m.maker for m in file.model if m.maker])),
        models=tuple(models),
        terms=tuple(Term(e.name.lower(), group, tuple(a.lower() for a in e.also)) for group, rows in groups for e in rows),
        hear_as=said | file.hear_as, leave=tuple(file.leave))
