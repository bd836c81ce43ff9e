"""What the host may choose about the published files. The shop's settings nest this model."""

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field


class _Settings(BaseModel):
    model_config = ConfigDict(extra="forbid")


class ChapterRules(_Settings):
    """When a video host turns lines of a description into chapters. Hosts change these: look yours up."""

    least: int = Field(3, ge=1, description="fewest chapters that the video host takes")
    least_seconds: float = Field(10.0, ge=0, description="shortest chapter that the video host takes, in seconds")
    title_length: int = Field(80, ge=8, description="longest chapter title, in characters")


class CaptionRules(_Settings):
    """How captions are cut. The defaults follow published guides, quoted from memory: the Timed Text Style Guide of a large
    streaming service (42 characters a line, two lines, 5/6 s to 7 s, two frames between captions, gaps under half a second
    closed) and the BBC Subtitle Guidelines (160 to 180 words a minute, about 17 characters a second)."""

    line_length: int = Field(42, ge=16, description="characters a line")
    lines: int = Field(2, ge=1, le=2, description="lines a caption")
    characters_per_second: float = Field(17.0, gt=0, description="reading speed that a caption's time is stretched to, where there is room")
    least_seconds: float = Field(0.833, ge=0, description="shortest time that a caption stands")
    most_seconds: float = Field(7.0, gt=0, description="longest time that a caption stands")
    gap_seconds: float = Field(0.083, ge=0, description="least time between two captions")
    close_gaps_under: float = Field(0.5, ge=0, description="gaps shorter than this are closed down to gap_seconds")


class WritingSettings(_Settings):
    """What is published, and how."""

    paper: Literal["a4", "us-letter"] = Field("a4", description="paper of the printed guide")
    language: str = Field("en", pattern=r"^[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8})*$", description="language of the talk, as a BCP 47 tag")
    description_length: int = Field(5000, ge=200, description="longest video description that the video host takes, in characters")
    time_parameter: str = Field(
        "t={seconds}", pattern=r"^(#?)[A-Za-z0-9_:=.-]*\{seconds\}[A-Za-z]?$",
        description="how a link into the footage says the moment: a query parameter, or a fragment if it begins with #")
    stills: bool = Field(True, description="take stills from the footage for the guide")
    still_width: int = Field(960, ge=160, le=1920, description="widest still, in pixels")
    most_stills: int = Field(60, ge=0, le=400, description="most stills in one guide")
    check_below: float = Field(0.6, ge=0, le=1, description="a finding below this confidence is marked \"check the footage\"")
    leave_out_below: float = Field(0.3, ge=0, le=1, description="a fact below this confidence stays in the record and out of the guide")
    embed: bool = Field(False, description="write a copy of the footage with the chapters in it")
    chapters: ChapterRules = ChapterRules()
    captions: CaptionRules = CaptionRules()
