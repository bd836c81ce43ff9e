"""Mentions gathered into the lists of parts, tools and supplies."""

from dataclasses import dataclass

from ..reading.findings import Mention
from ..record import Named, Part
from ..trade import Trade


@dataclass(frozen=True)
class Lists:
    parts: list[Part]
    tools: list[Named]
    supplies: list[Named]


def list_terms(mentions: list[Mention], trade: Trade) -> Lists:
    rows: dict[str, dict[str, Named]] = {"part": {}, "tool": {}, "supply": {}}
    for m in mentions:
        make = Part if m.group == "part" else Named
        row = rows[m.group].setdefault(m.name, make(name=m.name, names=list(dict.fromkeys([m.name, *m.names]))))
        row.at.append((m.start, m.end))
        row.sentences.append(m.sentence)
        row.confidence = max(row.confidence if len(row.at) > 1 else 0.0, m.confidence)
    return Lists(list(rows["part"].values()), list(rows["tool"].values()), list(rows["supply"].values()))
