"""How to listen: the settings of the hearing stage."""

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field


class HearingSettings(BaseModel):
    """Every default is what the practice episodes were measured with (benchmarks/hearing.md)."""

    model_config = ConfigDict(extra="forbid")

    model: str = Field("base", description="Speech model: base (comes along), light (the extra `light`), or any faster-whisper model name or folder.")
    device: Literal["auto", "cpu", "cuda"] = Field("auto", description="Where the model runs; auto takes a graphics card where there is one.")
    compute_type: str = Field("auto", description="Number format of the weights; auto is int8 on the processor and float16 on a graphics card.")
    threads: int = Field(0, ge=0, le=256, description="Processor threads; 0 is as many as there are cores.")
    beam_size: int = Field(1, ge=1, le=20, description="Guesses followed at once: 5 takes about twice the time of 1.")
    context: bool = Field(False, description="Let what was just heard help with what comes next; helps some hosts and leads others astray.")
    hint: bool = Field(False, description="Give the speech model the trade's and the glossary's words as hints.")
    window: float = Field(900, ge=10, le=3600, description="Seconds of footage that the speech model is given at once, at most; what it hears in them is kept half a minute at a time.")
