"""captions.vtt and captions.srt: the mended words as captions that can be read at a glance.

The words are cut once over the whole talk: of all ways to cut them, the one with the least total cost is taken (dynamic
programming), where a cut costs little at the end of a sentence or a phrase and very much between a number and its unit.
"""

import re
from dataclasses import dataclass

from ..hearing.words import Word
from .plain import clean, timestamp
from .settings import CaptionRules

_PAUSE = 0.7  # seconds of silence that always end a caption: hands at work
_OPENERS = frozenset(
    "and but or nor so because if when while where which who that then than until before after since though as "
    "to for from with without on in into onto under over at by of off out up through around between against".split())
_CLINGS = frozenset(  # never last before a break: what follows belongs to them
    "a an the this that these those my your his her its our their some any no every each very about number size "
    "of to for from with in on at by into onto is are was were be don't do not can can't could will would should i you we they he it".split())
_NUMBER = re.compile(
    r"^[#.]?\d[\d.,/:-]*$|^(?:one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|(?:thir|four|fif|six|seven|eigh|nine)teen"
    r"|twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety|hundred|thousand|half|quarter|thirds?|eighths?|quarters?|sixteenths?"
    r"|point|oh|zero)(?:-\w+)?$", re.I)


@dataclass(frozen=True)
class Cue:
    start: float
    end: float
    lines: tuple[str, ...]


def cut_captions(words: list[Word], rules: CaptionRules) -> list[Cue]:
    """Captions of the words, in order, none overlapping the next. All text is kept; a word too long for a line is cut."""
    words = _tidied(words, rules.line_length)
    cues = [_cue(words[a:b], rules) for a, b in _cuts(words, rules)]
    return _timed(cues, rules)


def _tidied(words: list[Word], longest: int) -> list[Word]:
    tidy, latest = [], 0.0
    for word in words:
        start = max(word.start, latest)
        end = max(word.end, start)
        for text in clean(word.text).split():
            pieces = [text[i:i + longest] for i in range(0, len(text), longest)]
            for piece in pieces:
                tidy.append(Word(text=piece, start=start, end=end))
        latest = start
    return tidy


def _break_cost(before: str, after: str) -> float:
    """What a break between two words costs: 0 after a sentence, up to 60 inside a number and its unit."""
    bare, following = before.lower().strip("\"'“”(),.;:?!"), after.lower().strip("\"'“”(),.;:?!")
    if before[-1] in ".?!":
        return 0.0
    if before[-1] in ",;:":
        return 3.0
    if _NUMBER.match(bare):
        return 60.0
    if bare in _CLINGS:
        return 25.0
    return 6.0 if following in _OPENERS else 14.0


def _cuts(words: list[Word], rules: CaptionRules) -> list[tuple[int, int]]:
    room, best, came = rules.line_length * rules.lines, [0.0] + [float("inf")] * len(words), [0] * (len(words) + 1)
    for last in range(1, len(words) + 1):
        cost_here = 0.0 if last == len(words) or words[last].start - words[last - 1].end > _PAUSE else _break_cost(
            words[last - 1].text, words[last].text)
        length, inside = -1, 0.0
        for first in range(last - 1, -1, -1):
            length += len(words[first].text) + 1
            if length > room or (last - first > 1 and words[last - 1].end - words[first].start > rules.most_seconds):
                break
            if first + 1 < last:
                if words[first + 1].start - words[first].end > _PAUSE:
                    break
                if words[first].text[-1] in ".?!":
                    inside += 8.0  # a caption may hold two short sentences, but rather not
            if length > rules.line_length and not _lines([w.text for w in words[first:last]], rules):
                continue
            shown = max(words[last - 1].end - words[first].start, 0.001)
            short = max(0.0, rules.least_seconds - shown) * 20 + max(0, 12 - length) * 1.0
            cost = best[first] + cost_here + inside + short + 4.0
            if cost < best[last]:
                best[last], came[last] = cost, first
    cuts, at = [], len(words)
    while at > 0:
        cuts.append((came[at], at))
        at = came[at]
    return cuts[::-1]


def _lines(texts: list[str], rules: CaptionRules) -> tuple[str, ...] | None:
    """The words laid on as few lines as they need, broken where it costs least; None where they do not fit."""
    whole = " ".join(texts)
    if len(whole) <= rules.line_length:
        return (whole,)
    best: dict[int, tuple[float, int, tuple[str, ...]]] = {0: (0.0, 0, ())}
    for last in range(1, len(texts) + 1):
        options = []
        for first in range(last - 1, -1, -1):
            line = " ".join(texts[first:last])
            if len(line) > rules.line_length:
                break
            if first not in best or best[first][1] >= rules.lines:
                continue
            cost, used, lines = best[first]
            here = _break_cost(texts[last - 1], texts[last]) if last < len(texts) else 0.0
            options.append((cost + here + (rules.line_length - len(line)) ** 2 / 40, used + 1, (*lines, line)))
        if options:
            best[last] = min(options)
    return best[len(texts)][2] if len(texts) in best else None


def _cue(words: list[Word], rules: CaptionRules) -> Cue:
    lines = _lines([w.text for w in words], rules)
    return Cue(words[0].start, max(w.end for w in words), lines or (" ".join(w.text for w in words),))


def _timed(cues: list[Cue], rules: CaptionRules) -> list[Cue]:
    """Stretched to the reading speed where there is room, small gaps closed, none reaching into the next."""
    timed: list[Cue] = []
    for i, cue in enumerate(cues):
        start = max(cue.start, timed[-1].end + 0.001) if timed else cue.start
        wanted = min(max(rules.least_seconds, sum(map(len, cue.lines)) / rules.characters_per_second), rules.most_seconds)
        end = max(cue.end, start + wanted)
        if i + 1 < len(cues):
            latest = cues[i + 1].start - rules.gap_seconds
            if end > latest or latest - end < rules.close_gaps_under - rules.gap_seconds:
                end = latest
        end = max(end, start + 0.04)
        timed.append(Cue(round(start, 3), round(end, 3), cue.lines))
    return timed


def vtt(cues: list[Cue], language: str = "en") -> str:
    """A WebVTT file (W3C WebVTT: text escapes &, < and >; a cue holds no blank line)."""
    blocks = ["WEBVTT"]
    for cue in cues:
        blocks.append(f"{timestamp(cue.start)} --> {timestamp(cue.end)}\n" + "\n".join(map(vtt_text, cue.lines)))
    return "\n\n".join(blocks) + "\n"


def vtt_text(text: str) -> str:
    return clean(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def srt(cues: list[Cue]) -> str:
    """A SubRip file. The format has no escapes: a word joiner after < and { keeps players from taking text for a tag."""
    return "\n".join(
        f"{i}\n{timestamp(cue.start, comma=True)} --> {timestamp(cue.end, comma=True)}\n" + "\n".join(map(_srt_text, cue.lines)) + "\n"
        for i, cue in enumerate(cues, 1))


def _srt_text(text: str) -> str:
    return clean(text).replace("-->", "→").replace("<", "<\u2060").replace("{", "{\u2060")
