"""How to listen: the settings of the hearing stage."""

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

RETIRED = {"context"}  # keys that a shop.toml of an earlier version still names


class HearingSettings(BaseModel):
    """Every default is what the practice episodes were measured with (benchmarks/hearing.md)."""

    model_config = ConfigDict(extra="forbid")

    model: str = Field("base", description="Speech model: base (comes along), light (the extra `light`), or any faster-whisper model name or folder.")
    device: Literal["auto", "cpu", "cuda"] = Field("auto", description="Where the model runs; auto takes a graphics card where there is one.")
    compute_type: str = Field("auto", description="Number format of the weights; auto is int8 on the processor and float16 on a graphics card.")
    threads: int = Field(0, ge=0, le=256, description="Processor threads; 0 is as many as there are cores. Up to eight pieces of talk are heard side by side; fewer take less memory.")
    beam_size: int = Field(5, ge=1, le=20, description="Guesses followed at once: 1 is a third quicker than 5 and hears a little worse.")
    together: int = Field(0, ge=0, le=64, description="Pieces of talk, half a minute each, that one call of the speech model hears; 0 is one on a processor, eight on a graphics card.")
    hint: bool = Field(True, description="Tell the speech model which words of the trade and the glossary are likely: it hears more of them.")
    window: float = Field(900, ge=10, le=3600, description="Seconds of footage that are taken up at once, at most, cut at the quietest place.")

    @model_validator(mode="before")
    @classmethod
    def _without_retired(cls, given: object) -> object:
        return {key: value for key, value in given.items() if key not in RETIRED} if isinstance(given, dict) else given
