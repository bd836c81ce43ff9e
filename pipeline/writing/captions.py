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
    talk = _Talk(words, rules)
    return _timed([Cue(words[a].start, words[b - 1].end, talk.lines(a, b)) for a, b in talk.cuts()], rules)


def _tidied(words: list[Word], longest: int) -> list[Word]:
    """One-line words with times that never run backwards."""
    tidy, latest = [], 0.0
    for word in words:
        start = max(word.start, latest)
        latest = max(word.end, start)
        for text in clean(word.text).split():
            tidy += [Word(text=text[i:i + longest], start=start, end=latest) for i in range(0, len(text), longest)]
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


class _Talk:
    """The words with what is needed again and again: where each begins in the running text, and what a break after it costs."""

    def __init__(self, words: list[Word], rules: CaptionRules):
        self.words, self.rules = words, rules
        self.offset = [0]
        for word in words:
            self.offset.append(self.offset[-1] + len(word.text) + 1)
        self.pause = [b.start - a.end > _PAUSE for a, b in zip(words, words[1:])] + [True]
        self.cost = [_break_cost(a.text, b.text) for a, b in zip(words, words[1:])] + [0.0]

    def length(self, first: int, last: int) -> int:
        return self.offset[last] - self.offset[first] - 1

    def split(self, first: int, last: int) -> tuple[float, int] | None:
        """The cheapest place for the line break, with its cost; `last` where one line holds all; None where two can't."""
        room = self.rules.line_length
        if self.length(first, last) <= room:
            return 0.0, last
        if self.rules.lines < 2:
            return None
        places = (m for m in range(last - 1, first, -1) if self.length(first, m) <= room and self.length(m, last) <= room)
        # lines of about one length read fastest
        return min(((self.cost[m - 1] + abs(self.length(first, m) - self.length(m, last)) / 8, m) for m in places), default=None)

    def lines(self, first: int, last: int) -> tuple[str, ...]:
        middle = self.split(first, last)[1]
        return tuple(" ".join(w.text for w in self.words[a:b]) for a, b in ((first, middle), (middle, last)) if a < b)

    def cuts(self) -> list[tuple[int, int]]:
        """[first, last) of each caption: of all ways to cut the talk, the one that costs least."""
        words, rules = self.words, self.rules
        room, best, came = rules.line_length * rules.lines + 1, [0.0] + [float("inf")] * len(words), [0] * (len(words) + 1)
        for last in range(1, len(words) + 1):
            at_end = 0.0 if self.pause[last - 1] else self.cost[last - 1]
            inside = 0.0
            for first in range(last - 1, -1, -1):
                length, shown = self.length(first, last), words[last - 1].end - words[first].start
                if first + 1 < last:
                    if self.pause[first] or length > room or shown > rules.most_seconds:
                        break
                    if words[first].text[-1] in ".?!":
                        inside += 8.0  # a caption may hold two short sentences, but rather not
                broken = self.split(first, last)
                if broken is None:
                    continue
                cost = best[first] + at_end + inside + broken[0] / 2 + max(0.0, rules.least_seconds - shown) * 20 + max(0, 12 - length) + 4.0
                if cost < best[last]:
                    best[last], came[last] = cost, first
        cuts, at = [], len(words)
        while at > 0:
            cuts.append((came[at], at))
            at = came[at]
        return cuts[::-1]


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


def vtt(cues: list[Cue]) -> str:
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
    """A line with nothing in it that a reader of SubRip could take for a tag, a time line, or (a line of digits alone) the next caption's number."""
    line = clean(text).replace("-->", "→").replace("<", "<\u2060").replace("{", "(").replace("}", ")")
    return line + "\u2060" if line.strip().isdigit() else line
