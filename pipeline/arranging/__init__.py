"""Arranging: findings to the record. Chapters, ledger, lists."""

from ..mending import Mended
from ..reading.findings import Findings
from ..record import Episode
from ..trade import Trade
from .ledger import keep_ledger
from .lists import list_terms
from .settings import ChapterSettings


def arrange(id: str, title: str, url: str | None, duration: float, mended: Mended, findings: Findings, trade: Trade,
            rules: ChapterSettings = ChapterSettings(), cuts: list[float] = ()) -> Episode:
    from .chapters import find_chapters  # numpy, which reading the settings does not need

    lists = list_terms(findings.mentions, trade, findings.facts)
    chapters = find_chapters(mended.sentences, findings, trade, rules, cuts)
    return Episode(
        id=id, title=title, url=url, duration=duration, sentences=mended.sentences, reels=findings.reels,
        chapters=chapters, parts=lists.parts, tools=lists.tools, supplies=lists.supplies,
        steps=findings.steps, facts=findings.facts, ledger=keep_ledger(findings.steps, trade))
