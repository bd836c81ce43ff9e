"""What reading finds in the sentences, before it is arranged into the record."""

from typing import Literal

from pydantic import BaseModel

from ..record import Fact, Phase, Reel, Step

Context = Literal["negated", "hypothetical", "past", "elsewhere"]  # elsewhere: another reel than the one on the bench


class Mention(BaseModel):
    """One part, tool or supply named in one sentence. `surface` is the wording, "" where the noun was left out."""

    group: Literal["part", "tool", "supply"]
    name: str
    names: list[str] = []  # every name that is as right for it
    surface: str = ""
    sentence: str
    start: float
    end: float
    qty: int | None = None
    part_number: str | None = None
    context: list[Context] = []
    confidence: float = 1.0


class Sight(BaseModel):
    """What the trained reader sees in one sentence, as chances 0 to 1."""

    sentence: str
    phases: dict[Phase, float]  # that it belongs to this phase; together 1
    opens: float                # that a chapter opens with it


class Findings(BaseModel):
    mentions: list[Mention] = []
    steps: list[Step] = []
    facts: list[Fact] = []
    reels: list[Reel] = []
    stories: list[str] = []  # ids of sentences that tell of another reel, another day
    sights: list[Sight] = []  # one a sentence; empty where no reader looked
