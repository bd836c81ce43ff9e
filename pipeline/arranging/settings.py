"""What the host may choose about chapters."""

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field


class ChapterSettings(BaseModel):
    """How chapters are found and how their titles are written."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    number: Literal["few", "usual", "many"] = Field("usual", description="how many chapters: only the surest, the usual number, or more of them with more doubt")
    least_seconds: float = Field(10.0, ge=1, le=600, description="shortest chapter that is made, in seconds")
    asides: Literal["named", "folded"] = Field("named", description='"named": a story is a chapter of its own; "folded": it stays in the chapter before it')
    title_case: Literal["sentence", "title"] = Field("sentence", description='"sentence": Opening the gear side; "title": Opening the Gear Side')
