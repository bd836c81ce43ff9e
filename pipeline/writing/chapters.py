"""Chapters in every form that a player, a host or a search engine reads."""

import json
import re
from dataclasses import dataclass
from xml.etree import ElementTree

from ..record import Chapter, Episode
from .captions import vtt_text
from .plain import clean, clock, moment_link, shorten, timestamp
from .settings import ChapterRules, WritingSettings


@dataclass(frozen=True)
class Mark:
    """One chapter as published: seconds, and a title of one line."""

    start: float
    end: float
    title: str


def published(chapters: list[Chapter], duration: float, rules: ChapterRules) -> list[Mark]:
    """The chapters in order, the first at 0, each long enough for the video host: a shorter one joins the one before it.

    Fewer than `rules.least` may be left; the host's player then shows the lines as plain text.
    """
    kept: list[tuple[float, str]] = []
    ordered = sorted((c for c in chapters if not duration or c.start < duration), key=lambda c: c.start)
    for chapter in ordered:
        title = shorten(clean(chapter.title), rules.title_length) or "Chapter"
        if not kept:
            kept.append((0.0, title))
        elif chapter.start - kept[-1][0] >= rules.least_seconds and (not duration or duration - chapter.start >= rules.least_seconds):
            kept.append((chapter.start, title))
    ends = [start for start, _ in kept[1:]] + [max(duration, kept[-1][0] + 1.0)] if kept else []
    return [Mark(start, end, title) for (start, title), end in zip(kept, ends)]


def text(marks: list[Mark]) -> str:
    """Lines for a video description: time, a space, title."""
    return "".join(f"{clock(m.start)} {m.title}\n" for m in marks)


def vtt(marks: list[Mark]) -> str:
    """A WebVTT chapters track (HTML: track kind=chapters)."""
    return "WEBVTT\n" + "".join(f"\n{i}\n{timestamp(m.start)} --> {timestamp(m.end)}\n{vtt_text(m.title)}\n" for i, m in enumerate(marks, 1))


def podcast_json(marks: list[Mark], episode: Episode, settings: WritingSettings) -> str:
    """JSON chapters 1.2.0 of the podcast namespace."""
    rows = []
    for m in marks:
        row = {"startTime": round(m.start, 3), "endTime": round(m.end, 3), "title": m.title}
        if link := moment_link(episode.url, m.start, settings.time_parameter):
            row["url"] = link
        rows.append(row)
    return json.dumps({"version": "1.2.0", "title": clean(episode.title), "chapters": rows}, ensure_ascii=False, indent=1) + "\n"


def matroska(marks: list[Mark], language: str) -> str:
    """Chapters as Matroska XML, for mkvmerge and mkvpropedit."""
    root = ElementTree.Element("Chapters")
    edition = ElementTree.SubElement(root, "EditionEntry")
    for uid, m in enumerate(marks, 1):
        atom = ElementTree.SubElement(edition, "ChapterAtom")
        times = (("ChapterTimeStart", timestamp(m.start, digits=9)), ("ChapterTimeEnd", timestamp(m.end, digits=9)))
        for tag, value in (("ChapterUID", str(uid)), *times):
            ElementTree.SubElement(atom, tag).text = value
        display = ElementTree.SubElement(atom, "ChapterDisplay")
        ElementTree.SubElement(display, "ChapterString").text = m.title
        ElementTree.SubElement(display, "ChapLanguageIETF").text = language
    ElementTree.indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ElementTree.tostring(root, encoding="unicode") + "\n"


def ffmetadata(marks: list[Mark], title: str = "") -> str:
    """ffmpeg's metadata file: milliseconds, and a backslash before = ; # \\. Its reader takes a backslash at the end of a line, escaped or not, for a line that goes on: none is left there."""
    def escaped(said: str) -> str:
        return re.sub(r"([=;#\\])", r"\\\1", clean(said).rstrip("\\ "))

    head = ";FFMETADATA1\n" + (f"title={escaped(title)}\n" if title else "")
    return head + "".join(
        f"\n[CHAPTER]\nTIMEBASE=1/1000\nSTART={round(m.start * 1000)}\nEND={round(m.end * 1000)}\ntitle={escaped(m.title)}\n" for m in marks)
