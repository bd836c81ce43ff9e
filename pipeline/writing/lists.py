"""parts-tools-supplies.csv and .md: everything named, what to buy and why, with its moments.

A part goes by the host's own word, as in the guide and the ledger: one thing has one name in all that is published. The
plain name of the trade stands among what it is also called.
"""

import csv
import io
from collections import defaultdict
from functools import cache

from ..record import Episode, Fact, Named, Part
from .calling import Calling
from .cautions import has_word
from .plain import cell, clean, clock, markdown, moment_link
from .settings import WritingSettings

_TOLD = {"condition": "condition found", "obsolete": "availability", "interchange": "fits other models", "upgrade": "upgrade"}
_OF_PARTS = ("quantity", "part number", "condition found", "replace or reuse", "availability", "fits other models", "upgrade")
_COLUMNS = ("group", "name", "also called", *_OF_PARTS, "first seen", "all moments", "link", "confidence")


def _groups(episode: Episode):
    return (("part", "Parts", episode.parts), ("tool", "Tools", episode.tools), ("supply", "Supplies", episode.supplies))


def parts_of(episode: Episode, settings: WritingSettings) -> list[tuple[Part, dict[str, str]]]:
    """Each part with what the record tells of it, under the names of the list's columns; "" where it tells nothing."""
    facts = [f for f in episode.facts if f.confidence >= settings.leave_out_below and tells(f)]
    rows, called = [], _called(episode)

    @cache
    def owner(name: str, at: float) -> Part | None:
        return _owner(called, name, at)

    for part in episode.parts:
        def own(name: str | None, at: float) -> bool:
            return bool(name) and owner(name.lower(), at) is part

        whats = dict.fromkeys(_OF_PARTS, "")
        about = [f for f in facts if own(f.part, f.start) or not f.part and has_word(f.text, [part.name])]
        # a sentence read both as "no longer made" and as "better to buy" is the surer of the two
        surer = {f.text: f.kind for f in sorted(about, key=lambda f: f.confidence) if f.kind in ("obsolete", "upgrade")}
        about = [f for f in about if f.kind not in ("obsolete", "upgrade") or surer[f.text] == f.kind]
        for kind, column in _TOLD.items():
            whats[column] = "; ".join(dict.fromkeys(_said(f, settings) for f in about if f.kind == kind))
        lines = [l for l in episode.ledger if own(l.part, l.off if l.off is not None else l.on or 0.0)]
        done = {s.do: s for s in episode.steps if own(s.part, s.start) and not s.undone}
        count = part.qty or max((n for l in lines for n in (l.qty_off, l.qty_on) if n), default=None)
        whats["quantity"] = str(count or "")
        whats["part number"] = clean(part.part_number or next((f.value for f in about if f.kind == "part_number" and f.value), ""))
        whats["replace or reuse"] = next((said for do, said in (("replace", "replaced"), ("repair", "repaired")) if do in done), "") or (
            "replaced" if any(l.status == "replaced" for l in lines) else
            "goes back" if any(l.status == "back on" and l.off is not None for l in lines) else "not shown going back" if any(l.on is None for l in lines) else "")
        rows.append((part, whats))
    return rows


def tells(fact: Fact) -> bool:
    """A question tells nothing; that the host does not know may be put as one."""
    return fact.kind == "unsure" or not fact.text.rstrip().endswith("?")


def _called(episode: Episode) -> dict[str, list[Part]]:
    """The parts that go by a name: those whose own it is, else those that are called so too."""
    own, too = defaultdict(list), defaultdict(list)
    for part in episode.parts:
        own[part.name.lower()].append(part)
        for name in dict.fromkeys(n.lower() for n in part.names):
            too[name].append(part)
    return too | own


def _owner(called: dict[str, list[Part]], name: str, at: float) -> Part | None:
    """The part that goes by this name; where several do ("bearing"), the one that is spoken of nearest to the moment."""
    return min(called.get(name, ()), key=lambda p: min((max(0.0, start - at, at - end) for start, end in p.at), default=float("inf")), default=None)


def _said(fact, settings: WritingSettings) -> str:
    text = clean(fact.text).rstrip(".")
    return text if fact.confidence >= settings.check_below else f"{text} (check the footage)"


def lists_csv(episode: Episode, settings: WritingSettings) -> bytes:
    """UTF-8 with a byte order mark, CRLF line ends (RFC 4180), no cell that a spreadsheet would run as a formula."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(_COLUMNS)
    told, calling = [whats for _, whats in parts_of(episode, settings)], Calling(episode)
    for group, _, things in _groups(episode):
        for i, thing in enumerate(things):
            first = thing.at[0][0] if thing.at else None
            whats = told[i] if group == "part" else dict.fromkeys(_OF_PARTS, "")
            name = calling.word(thing.name) if group == "part" else thing.name
            writer.writerow([cell(value) for value in (
                group, name, ", ".join(n for n in dict.fromkeys((thing.name, *thing.names)) if n != name), *(whats[column] for column in _OF_PARTS),
                clock(first) if first is not None else None, " ".join(clock(start) for start, _ in thing.at),
                moment_link(episode.url, first, settings.time_parameter) if first is not None else None, f"{thing.confidence:.2f}")])
    return b"\xef\xbb\xbf" + out.getvalue().encode()


def lists_md(episode: Episode, settings: WritingSettings) -> str:
    lines = [f"# Parts, tools, supplies: {markdown(episode.title) or markdown(episode.id)}", "", "## Parts", ""]
    calling = Calling(episode)
    if episode.parts:
        lines += [f"| part | {' | '.join(_OF_PARTS)} | seen |", "| --- " * (len(_OF_PARTS) + 2) + "|"]
        lines += [f"| {_name(calling.word(part.name), part, settings)} | {' | '.join(markdown(whats[c]) for c in _OF_PARTS)} | {_times(part)} |" for part, whats in parts_of(episode, settings)]
    else:
        lines.append("None named.")
    for _, title, things in _groups(episode)[1:]:
        lines += ["", f"## {title}", ""]
        lines += [f"- {_name(thing.name, thing, settings)}{': ' if thing.at else ''}{_times(thing)}" for thing in things] or ["None named."]
    return "\n".join(lines) + "\n"


def _name(word: str, thing: Named, settings: WritingSettings) -> str:
    return markdown(word) + ("" if thing.confidence >= settings.check_below else " (check the footage)")


def _times(thing) -> str:
    return ", ".join(clock(start) for start, _ in thing.at[:8]) + (", …" if len(thing.at) > 8 else "")
