"""Hearing: footage and caption files to words."""

from .captions import CaptionError, read_captions
from .footage import Footage, FootageError, probe
from .listening import hear, listen
from .models import ModelError
from .settings import HearingSettings
from .words import Heard, Word

__all__ = ["CaptionError", "Footage", "FootageError", "Heard", "HearingSettings", "ModelError", "Word", "hear", "listen", "probe", "read_captions"]
