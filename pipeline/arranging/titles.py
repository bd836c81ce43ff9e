"""Chapter titles: what is done to what, in the trade's words."""

from ..reading.findings import Findings
from ..record import Chapter, Sentence
from ..trade import Trade


def name_chapters(chapters: list[Chapter], sentences: list[Sentence], findings: Findings, trade: Trade) -> list[Chapter]:
    return [c.model_copy(update={"title": c.phase.capitalize()}) for c in chapters]
