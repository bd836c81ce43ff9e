"""parts-tools-supplies.csv and .md: everything named, with its moments."""

import csv
import io

from ..record import Episode
from .plain import cell, clean, clock, markdown, moment_link
from .settings import WritingSettings

_COLUMNS = ("group", "name", "also called", "count", "part number", "first seen", "all moments", "link", "confidence")


def _groups(episode: Episode):
    return (("part", "Parts", episode.parts), ("tool", "Tools", episode.tools), ("supply", "Supplies", episode.supplies))


def lists_csv(episode: Episode, settings: WritingSettings) -> bytes:
    """UTF-8 with a byte order mark, CRLF line ends (RFC 4180), no cell that a spreadsheet would run as a formula."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(_COLUMNS)
    for group, _, things in _groups(episode):
        for thing in things:
            first = thing.at[0][0] if thing.at else None
            writer.writerow([cell(value) for value in (
                group, thing.name, ", ".join(n for n in thing.names if n != thing.name), getattr(thing, "qty", None), getattr(thing, "part_number", None),
                clock(first) if first is not None else None, " ".join(clock(start) for start, _ in thing.at),
                moment_link(episode.url, first, settings.time_parameter) if first is not None else None, f"{thing.confidence:.2f}")])
    return b"\xef\xbb\xbf" + out.getvalue().encode()


def lists_md(episode: Episode, settings: WritingSettings) -> str:
    lines = [f"# Parts, tools, supplies: {markdown(episode.title) or markdown(episode.id)}", ""]
    for _, title, things in _groups(episode):
        lines += [f"## {title}", ""]
        for thing in things:
            count = f" × {thing.qty}" if getattr(thing, "qty", None) else ""
            number = f", part number {markdown(thing.part_number)}" if getattr(thing, "part_number", None) else ""
            times = ", ".join(clock(start) for start, _ in thing.at[:8]) + (", …" if len(thing.at) > 8 else "")
            doubt = "" if thing.confidence >= settings.check_below else " (check the footage)"
            lines.append(f"- {markdown(clean(thing.name))}{count}{number}{f': {times}' if times else ''}{doubt}")
        if not things:
            lines.append("None named.")
        lines.append("")
    return "\n".join(lines).rstrip() + "\n"
