"""Numbers as the trade writes them: "number two Phillips" as "#2 Phillips", with what was heard kept beside it.

The text of a sentence keeps its spoken numbers, which reading understands; what is published writes them in figures.
"""

import re
from collections.abc import Iterable

from ..hearing.words import Word
from ..record import Mend
from ..trade.numbers import Number, find_numbers

SURE = 0.7  # confidence from which a number is written in figures
KINDS = frozenset(("length", "weight", "volume", "ratio", "torque", "thread", "part_number", "percent", "speed", "electric", "grade", "driver", "year", "price"))
WHY = "a number as the trade writes it"
GOES_ON = re.compile(r"\W*(?:oh|zero|hundred|thousand|point|dash|one|two|three|four|five|six|seven|eight|nine|ten|\w+teen|\w+ty)\b", re.I)
MODEL = "a model's number"


def figures(text: str, names: Iterable[str] = ()) -> list[Mend]:
    """The numbers of a sentence that are written otherwise than they stand there, in order. `names`: after one, a number is a model's."""
    named = {name.lower().split()[-1] for name in names if name.strip()}
    found = []
    for number in find_numbers(text):
        heard = text[number.start:number.end]
        before = re.findall(r"[\w'-]+(?=\W*$)", text[:number.start].lower())[-1:]
        model = number.kind in ("count", "year") and bool(before) and before[0] in named and not GOES_ON.match(text, number.end)
        written = number.value if model else _written(number, heard)
        if written and written.lower() != heard.lower() and re.search(r"\w", heard) and _whole_words(text, number):
            found.append(Mend(**{"from": heard}, to=written, why=MODEL if model else WHY, confidence=max(number.confidence, 0.9 * model)))
    return found


def _written(number: Number, heard: str) -> str | None:
    fraction = re.fullmatch(r"(\d+/\d+) in", number.value)
    if fraction and not re.search(r"inch|thou|\bin\b", heard, re.I):
        return fraction[1]  # "a seven sixteenths wrench"
    if number.kind not in KINDS or number.confidence < SURE:
        return None
    if number.kind == "thread" and re.match(r"\d+-", number.value):
        return "#" + number.value  # a numbered size
    return number.value


def _whole_words(text: str, number: Number) -> bool:
    before, after = text[:number.start], text[number.end:]
    return not re.search(r"[\w#/.-]$", before) and not re.match(r"[\w/]|[-.]\w", after)


def in_figures(words: list[Word], numbers: list[Mend]) -> list[Word]:
    """The words of a sentence with its numbers in figures. One that does not stand there any more is left."""
    out, at = [], 0
    for number in numbers:
        wanted = [_bare(w) for w in number.from_.split()]
        place = next((i for i in range(at, len(words) - len(wanted) + 1) if [_bare(w.text) for w in words[i:i + len(wanted)]] == wanted), None)
        if place is not None:
            out += words[at:place] + rewritten(words[place:place + len(wanted)], number.to)
            at = place + len(wanted)
    return out + words[at:]


def _bare(text: str) -> str:
    return re.sub(r"^[^\w#.]+|[^\w%°]+$", "", text).lower()


def rewritten(old: list[Word], text: str) -> list[Word]:
    """The words of `text` in the time of the old ones, with the old ones' punctuation and capital."""
    lead = re.match(r"^[^\w#.]*", old[0].text).group()
    trail = re.search(r"(?:'s|’s)?[^\w%°]*$", old[-1].text).group()
    texts = text.split()
    if old[0].text[len(lead):][:1].isupper() and texts[0].islower():
        texts[0] = texts[0][0].upper() + texts[0][1:]
    texts[0], texts[-1] = lead + texts[0], texts[-1] + trail
    letters, at, span = sum(map(len, texts)), old[0].start, old[-1].end - old[0].start
    chances = [w.probability for w in old if w.probability is not None]
    new = []
    for t in texts:
        end = at + span * len(t) / letters
        new.append(Word(text=t, start=round(at, 3), end=round(end, 3), probability=min(chances) if chances else None))
        at = end
    return new
