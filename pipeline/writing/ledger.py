"""ledger.md: what came off the reel and what went back on, worst first."""

from ..record import Episode
from .plain import clock, markdown, moment_link
from .settings import WritingSettings

_WORST_FIRST = ("not shown going back", "count differs", "not shown coming off", "replaced", "new", "back on")
EVEN = {"replaced", "new", "back on"}   # nothing to look for


def ledger(episode: Episode, settings: WritingSettings) -> str:
    open_lines = sum(line.status not in EVEN for line in episode.ledger)
    if not episode.ledger:
        body = "No part is on record as taken off or put back.\n"
    else:
        said = f"{open_lines} of {len(episode.ledger)} lines do not come out even" if open_lines else f"All {len(episode.ledger)} lines come out even"
        body = f"{said}.\n\n{table(episode, settings)}"
    return f"# Off and back on: {markdown(episode.title) or markdown(episode.id)}\n\n{body}"


def table(episode: Episode, settings: WritingSettings) -> str:
    """The ledger as a Markdown table; each line carries its two moments."""
    def moment(seconds: float | None, qty: int | None, without: str) -> str:
        if seconds is None:
            return without
        link = moment_link(episode.url, seconds, settings.time_parameter)
        shown = f"[{clock(seconds)}](<{link.replace('<', '%3C').replace('>', '%3E').replace('|', '%7C')}>)" if link else clock(seconds)
        return shown + (f" ({qty})" if qty is not None else "")

    rows = sorted(episode.ledger, key=lambda l: (_WORST_FIRST.index(l.status), l.off if l.off is not None else l.on or 0.0))
    lines = ["| part | off (count) | back on (count) | status |", "| --- | --- | --- | --- |"]
    for line in rows:
        status, without = (line.status, "-") if line.status in EVEN else (f"**{line.status}**", "not shown")
        doubt = "" if line.confidence >= settings.check_below else ", check the footage"
        lines.append(f"| {markdown(line.part)} | {moment(line.off, line.qty_off, without)} | {moment(line.on, line.qty_on, without)} | {status}{doubt} |")
    return "\n".join(lines) + "\n"
