"""Caption files to words: a caption file can take the place of hearing.

SubRip and WebVTT are read here, since their word times and rolling lines matter; whatever else pysubs2 knows is read
by pysubs2; and plain text whose lines begin with a time is taken too.
"""

import html
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from ..errors import BenchError
from .words import Heard, Word

LARGEST = 10_000_000  # bytes; ten hours of talk with a time at every word, each line shown twice, stay below
LAST_MOMENT = 24 * 3600.0  # seconds; a later time is taken for nonsense
LETTERS_A_SECOND = 12  # an unhurried talker, where only the beginning of a line is known
ROLLING = 0.25  # share of cues that repeat the line before, from which the file is taken to roll
NEAR = 0.6  # seconds between cues that may be one rolling text

CLOCK = r"(?:(\d{1,6}):)?(\d{1,6}):(\d{1,2})(?:[.,](\d{1,9}))?"
TIMING = re.compile(rf"\s*{CLOCK}\s*-->\s*{CLOCK}(?:\s.*)?")
ARROW = re.compile(r"\s*-?\d[^\s]*\s*-->")  # what means to be a timing
STAMPED = re.compile(rf"\s*[\[(<]?\s*{CLOCK}\s*[\])>]?\s*[-–—:|]?\s*(.*)")
INLINE = re.compile(rf"<\s*{CLOCK}\s*>")
TAG = re.compile(r"</?[a-zA-Z][^<>]{0,300}>|\{\\[^{}]{0,300}\}")
SOUND = re.compile(r"\[[^\]\[\d]{0,60}\]|[♩♪♫♬]+")
SPEAKER = re.compile(r"^\s*(?:>{1,3}|[-–—•](?=\s|\w))?\s*(?:[A-Z][A-Z .'-]{1,24}:(?=\s))?\s*")


class CaptionError(BenchError):
    """A caption file can't be used."""


@dataclass
class Token:
    text: str
    at: float | None  # seconds, where the file gives the word's own beginning
    line: int  # which line of its cue it stands on


@dataclass
class Cue:
    start: float
    end: float
    tokens: list[Token]


def read_captions(path: Path) -> Heard:
    """Read a caption file; a word without a time of its own gets its share, by letters, of its cue's time.

    CaptionError in one line where the file can't be read, is no caption file, or its times are nonsense.
    """
    path = Path(path)
    try:
        cues = [cue for cue in _cues(_text(path)) if cue.tokens]
    except CaptionError as error:
        error.where = str(path)
        raise
    if not cues:
        raise CaptionError("there are no captions in it", path, "give SubRip, WebVTT, or lines that begin with a time like [12:34]")
    words, breaks = [], []
    for cue in _settled(cues):
        breaks.append(len(words))
        words += _timed(cue)
    return Heard(words=words, breaks=breaks, duration=words[-1].end, source="captions")


def _text(path: Path) -> str:
    """The file's text, whatever its encoding."""
    try:
        if path.is_dir():
            raise CaptionError("this is a folder", what_to_do="name the caption file in it")
        if path.exists() and not path.is_file():
            raise CaptionError("this is not a file", what_to_do="name a caption file")
        with path.open("rb") as file:
            raw = file.read(LARGEST + 1)
    except FileNotFoundError:
        raise CaptionError("there is no such file", what_to_do="check the name") from None
    except PermissionError:
        raise CaptionError("the file can't be read: no permission", what_to_do="give yourself the right to read it") from None
    except (OSError, ValueError) as error:
        raise CaptionError(f"the file can't be read ({getattr(error, 'strerror', None) or error})", what_to_do="check the name and the disk") from None
    if not raw.strip():
        raise CaptionError("the file is empty", what_to_do="save the captions again")
    if len(raw) > LARGEST:
        raise CaptionError(f"this is too large for captions (over {LARGEST // 1_000_000} MB)", what_to_do="check that it is the caption file")
    text = _decoded(raw)
    if sum(c < " " and c not in "\t\n\r\f\x1a" for c in text[:4000]) > len(text[:4000]) / 50:
        raise CaptionError("this is not text", what_to_do="give a caption file: SubRip, WebVTT, or lines that begin with a time")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _decoded(raw: bytes) -> str:
    if raw.startswith((b"\xff\xfe\0\0", b"\0\0\xfe\xff")):
        encoding = "utf-32"
    elif raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        encoding = "utf-16"
    elif raw[1:2000:2].count(0) > len(raw[:2000]) * 0.3:
        encoding = "utf-16-le"
    elif raw[0:2000:2].count(0) > len(raw[:2000]) * 0.3:
        encoding = "utf-16-be"
    else:
        try:
            return raw.decode("utf-8-sig")
        except UnicodeDecodeError:
            encoding = "cp1252"  # what an old editor writes for English
    return raw.decode(encoding, "replace").removeprefix("\ufeff")


def _cues(text: str) -> Iterator[Cue]:
    lines = text.split("\n")
    others = "[Script Info]" in text or "[V4+ Styles]" in text or "http://www.w3.org/ns/ttml" in text[:4000]
    if not others and (text.lstrip().startswith("WEBVTT") or any("-->" in line and ARROW.match(line) for line in lines)):
        yield from _arrow_cues(lines, web=text.lstrip().startswith("WEBVTT"))
    else:
        yield from _library_cues(text) or _stamped_cues(lines)


def _arrow_cues(lines: list[str], web: bool) -> Iterator[Cue]:
    """SubRip and WebVTT."""
    begun: tuple[float, float] | None = None
    body: list[str] = []
    for number, line in enumerate([*lines, None], 1):
        timing = TIMING.fullmatch(line) if line and "-->" in line else None
        if line and not timing and ARROW.match(line):
            raise CaptionError(f"the times on line {number} can't be read ({line.strip()[:60]})", what_to_do="write them like 00:01:02,500 --> 00:01:04,000")
        if timing or line is None or (web and not line):
            if begun:
                # what stands just before a timing is the next cue's number
                if timing and not web and body and re.fullmatch(r"\s*\d+\s*", body[-1]):
                    body.pop()
                yield Cue(*begun, _tokens(body))
            begun, body = None, []
        if timing:
            stamps = timing.groups()
            begun = _seconds(stamps[:4], number), _seconds(stamps[4:], number)
        elif begun and line:
            body.append(line)


def _stamped_cues(lines: list[str]) -> Iterator[Cue]:
    """Lines that begin with a time; lines without one go on with the line before."""
    begun, body = None, []
    for number, line in enumerate([*lines, None], 1):
        stamp = STAMPED.fullmatch(line) if line is not None else None
        if begun is not None and (stamp or line is None):
            yield Cue(begun, begun, _tokens(body))
        if stamp:
            begun, body = _seconds(stamp.groups()[:4], number), [stamp[5]]
        elif line:
            body.append(line)


def _library_cues(text: str) -> list[Cue]:
    """What pysubs2 reads, empty where it doesn't know the format."""
    import pysubs2
    from pysubs2.formats import autodetect_format

    try:
        kind = autodetect_format(text)
    except pysubs2.FormatAutodetectionError:
        return []
    if kind in ("tmp", "srt", "vtt"):
        return []
    try:
        events = pysubs2.SSAFile.from_string(text, format_=kind)
        events = [(e.start / 1000, e.end / 1000, e.plaintext) for e in events if e.is_text]
    except pysubs2.UnknownFPSError:
        raise CaptionError("these captions count frames and don't say how many make a second", what_to_do="save them as SubRip or WebVTT") from None
    except Exception as error:  # pysubs2 lets through whatever a damaged file makes it do
        raise CaptionError(f"these {kind} captions are damaged ({str(error)[:80] or type(error).__name__})", what_to_do="save them again as SubRip or WebVTT") from None
    return [Cue(_within_a_day(start), _within_a_day(end), _tokens(words.split("\n"))) for start, end, words in events]


def _seconds(stamp: tuple[str | None, ...], number: int) -> float:
    hours, minutes, seconds, fraction = stamp
    return _within_a_day(int(hours or 0) * 3600 + int(minutes) * 60 + int(seconds) + float(f"0.{fraction or 0}"), f" on line {number}")


def _within_a_day(seconds: float, where: str = "") -> float:
    if not 0 <= seconds <= LAST_MOMENT:
        raise CaptionError(f"a time{where} is {'past 24 hours' if seconds > 0 else 'before the beginning'}", what_to_do="check that it is the caption file of this episode")
    return seconds


def _tokens(lines: list[str]) -> list[Token]:
    """The words of a cue, without markup, sounds and speaker marks."""
    tokens = []
    whole = " ".join(lines).strip()
    if re.fullmatch(r"\([^()]*\)", whole):  # a described sound
        return []
    for number, line in enumerate(lines):
        at = None
        pieces = INLINE.split(line)  # text, then four clock groups and a text for each inline time
        for i in range(0, len(pieces), 5):
            if i:
                hours, minutes, seconds, fraction = pieces[i - 4 : i]
                at = int(hours or 0) * 3600 + int(minutes) * 60 + int(seconds) + float(f"0.{fraction or 0}")
            text = SOUND.sub(" ", html.unescape(TAG.sub("", pieces[i])))
            text = "".join(c if c.isprintable() else " " if c.isspace() else "" for c in unicodedata.normalize("NFC", text))
            for word in (SPEAKER.sub("", text) if i == 0 else text).split():
                if _is_word(word) or not tokens:
                    tokens.append(Token(word, at, number))
                    at = None
                else:
                    tokens[-1].text += word  # a dash or a dot alone belongs to the word before
    return [t for t in tokens if _is_word(t.text)]


def _is_word(text: str) -> bool:
    return any(c.isalnum() or c in "&+%=°" for c in text)


def _settled(cues: list[Cue]) -> list[Cue]:
    """Cues in order, none repeating the one before, none reaching into the next."""
    cues = _unrolled(sorted(cues, key=lambda cue: cue.start))
    for cue, after in [*pairwise(cues), (cues[-1], None)]:
        if cue.end <= cue.start:
            cue.end = cue.start + 0.5 + sum(len(t.text) + 1 for t in cue.tokens) / LETTERS_A_SECOND
            cue.end = min(cue.end, LAST_MOMENT)
        if after and after.start > cue.start:
            cue.end = min(cue.end, after.start)
    merged = [cues[0]]
    for cue in cues[1:]:
        if cue.start == merged[-1].start:  # two talkers at once: one after the other
            merged[-1].tokens += cue.tokens
            merged[-1].end = max(merged[-1].end, cue.end)
        else:
            merged[-1].end = min(merged[-1].end, cue.start)
            merged.append(cue)
    return merged


def _unrolled(cues: list[Cue]) -> list[Cue]:
    """Fold captions that roll (each cue shows the line before again) or grow (word by word)."""
    pairs = [(a, b) for a, b in pairwise(cues) if b.start - max(a.end, a.start) <= NEAR]
    if len(pairs) < 2 or sum(_rolls(a, b) for a, b in pairs) < ROLLING * len(pairs):
        return cues
    kept, shown, until = [], [], 0.0
    for cue in cues:
        texts = [t.text for t in cue.tokens]
        again = _shown_again(shown, texts) if cue.start - until <= NEAR else 0
        shown, until = texts, max(cue.end, cue.start)
        if again < len(texts):
            kept.append(Cue(cue.start, cue.end, cue.tokens[again:]))
        elif kept and again:
            kept[-1].end = max(kept[-1].end, cue.end)
    return kept


def _rolls(a: Cue, b: Cue) -> bool:
    last = [t.text for t in a.tokens if t.line == a.tokens[-1].line]
    return [t.text for t in b.tokens[: len(last)]] == last and len(b.tokens) + len(a.tokens) > 2 * len(last) or \
        len(a.tokens) > 1 and [t.text for t in a.tokens] == [t.text for t in b.tokens[: len(a.tokens)]]


def _shown_again(shown: list[str], texts: list[str]) -> int:
    """How many of the first words were on the screen already, as its last ones."""
    for count in range(min(len(shown), len(texts)), 0, -1):
        if shown[-count:] == texts[:count]:
            return count
    return 0


def _timed(cue: Cue) -> list[Word]:
    """The words with their times: their own where given and sensible, else by letters between those that are known."""
    tokens, at = cue.tokens, cue.start
    known = [(0, cue.start)]
    for i, token in enumerate(tokens):
        if i and token.at is not None and known[-1][1] <= token.at <= cue.end:
            known.append((i, token.at))
        elif i == 0 and token.at is not None and cue.start <= token.at <= cue.end:
            known = [(0, token.at)]
    words = []
    for (first, start), (last, end) in pairwise([*known, (len(tokens), cue.end)]):
        letters = sum(len(t.text) for t in tokens[first:last])
        at = start
        for token in tokens[first:last]:
            until = at + (end - start) * len(token.text) / letters
            words.append(Word(text=token.text, start=round(at, 3), end=round(until, 3)))
            at = until
    return words
