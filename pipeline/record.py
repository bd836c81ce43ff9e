"""The record of one episode: what every output is written from. Types, and nothing else.

Times are seconds as floats. Names are the plain trade word, singular and lower case. `at` is a list of
[start, end] pairs. Every finding carries the ids of the sentences that say so and a confidence from 0 to 1.
"""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Action = Literal[
    "remove", "install", "loosen", "tighten", "clean", "degrease", "dry", "lubricate", "inspect", "measure",
    "adjust", "align", "test", "mark", "repair", "replace", "set aside",
]
FactKind = Literal[
    "obsolete", "interchange", "upgrade", "dating", "orientation", "fastener", "setting", "caution", "condition",
    "unsure", "part_number", "measure",
]
Phase = Literal[
    "introduction", "identification", "disassembly", "inspection", "cleaning", "lubrication", "repair", "reassembly",
    "adjustment", "testing", "aside", "closing",
]
Role = Literal["on_bench", "same_service", "mentioned"]

Seconds = Annotated[float, Field(ge=0)]
Moment = tuple[Seconds, Seconds]
Confidence = Annotated[float, Field(ge=0, le=1)]


class Entry(BaseModel):
    """What all parts of the record share: unknown fields are refused, so a slip in a hand-made file is seen."""

    model_config = ConfigDict(extra="forbid")


class Mend(Entry):
    """One change between what was heard and what stands in the text."""

    model_config = ConfigDict(extra="forbid", populate_by_name=True)
    from_: str = Field(alias="from")
    to: str
    why: str
    confidence: Confidence = 1.0
    applied: bool = True  # False: a suggestion below the shop's threshold, the text still says what was heard


class Sentence(Entry):
    id: str
    start: Seconds
    end: Seconds
    text: str
    heard: str
    mends: list[Mend] = []
    numbers: list[Mend] = []  # numbers of the text as the trade writes them; published text has them so


class Reel(Entry):
    maker: str | None = None
    model: str
    role: Role
    at: list[Moment] = []
    sentences: list[str] = []
    confidence: Confidence = 1.0


class Chapter(Entry):
    start: Seconds
    title: str
    phase: Phase
    sentences: list[str] = []
    confidence: Confidence = 1.0


class Named(Entry):
    """A tool or a supply."""

    name: str
    names: list[str] = []
    at: list[Moment] = []
    sentences: list[str] = []
    confidence: Confidence = 1.0


class Part(Named):
    qty: int | None = None
    part_number: str | None = None


class Step(Entry):
    id: str
    start: Seconds
    end: Seconds
    do: Action
    part: str
    qty: int | None = None
    tool: str | None = None
    supply: str | None = None
    text: str
    phase: Phase | None = None
    sentences: list[str] = []
    confidence: Confidence = 1.0
    new: bool = False  # what is fitted is a new piece, not what came off
    undone: bool = False  # a wrong step, caught and undone on camera: in the record, not in the guide
    still: Seconds | Literal["none"] | None = None  # the moment of the picture that the host chose, or none; else the program chooses


class Fact(Entry):
    start: Seconds
    end: Seconds
    kind: FactKind
    part: str | None = None
    text: str
    value: str | None = None
    sentences: list[str] = []
    confidence: Confidence = 1.0


class LedgerLine(Entry):
    """One part's way off the reel and back on. `off` and `on` are moments in seconds. Where a new piece went in, the old one's line says `replaced`, and the new one's stands beside it."""

    part: str
    qty_off: int | None = None
    off: Seconds | None = None
    qty_on: int | None = None
    on: Seconds | None = None
    status: Literal["back on", "replaced", "new", "not shown going back", "not shown coming off", "count differs"]
    sentences: list[str] = []
    confidence: Confidence = 1.0


class Answer(Entry):
    episode: str
    start: Seconds
    end: Seconds
    text: str
    confidence: Confidence


class Question(Entry):
    """What one viewer comment asks, and the moments that answer it. Comments that ask nothing stand here too."""

    comment_id: str
    is_question: bool
    asks: list[str] = []
    same_as: str | None = None
    status: Literal["open", "answered", "dropped"] = "open"
    answers: list[Answer] = []
    reply: str | None = None  # the host's own answer in words, where no moment of the footage gives it
    confidence: Confidence = 1.0


class Episode(Entry):
    model_config = ConfigDict(extra="forbid", populate_by_name=True)
    schema_: Literal["sideplate/episode@1"] = Field("sideplate/episode@1", alias="schema")
    id: str
    title: str
    url: str | None = None
    duration: Seconds
    reels: list[Reel] = []
    sentences: list[Sentence] = []
    chapters: list[Chapter] = []
    parts: list[Part] = []
    tools: list[Named] = []
    supplies: list[Named] = []
    steps: list[Step] = []
    facts: list[Fact] = []
    ledger: list[LedgerLine] = []
    questions: list[Question] = []
