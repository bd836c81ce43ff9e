"""The size of a tool as it is spoken: "number one", "seven sixteenths", "twelve mil", "six hundred grit"."""

import re

from spacy.tokens import Doc

_UNITS = "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split()
_TENS = "twenty thirty forty fifty sixty seventy eighty ninety".split()
_NUMBERS = {w: n for n, w in enumerate(_UNITS)} | {w: 10 * n for n, w in enumerate(_TENS, 2)} | {"oh": 0, "nought": 0, "naught": 0, "aught": 0, "ought": 0, "double-zero": 0}
_PARTS = {"half": 2, "halves": 2, "third": 3, "thirds": 3, "quarter": 4, "quarters": 4, "eighth": 8, "eighths": 8, "sixteenth": 16, "sixteenths": 16,
          "16th": 16, "16ths": 16, "8th": 8, "8ths": 8, "thirty-second": 32, "thirty-seconds": 32, "32nd": 32, "32nds": 32}
_MILLIMETRES = {"mil", "mill", "mils", "mills", "mm", "millimeter", "millimetre", "millimeters", "millimetres", "milli"}
_NUMBER_WORDS = {"number", "no", "no.", "size", "#", "num"}
_CROSS = {"phillips", "philips", "cross", "head", "crosshead", "cross-head", "pozidriv", "pozi", "jis"}  # cross recesses go by a number alone, 0 to 3 (ISO 8764-1, from memory)
_ENDS = {"and", "on", "for", "in", "out", "again", "does", "fits", "is", "then", "comes", "goes"}
_BETWEEN = {"-", ",", "inch", "inches", "sized", "size", "deep", "little", "small", "short", "long", "stubby", "old", "good"}


def _value(text: str) -> int | None:
    return int(text) if text.isdigit() else _NUMBERS.get(text)


def size_before(doc: Doc, first: int) -> tuple[str | None, int]:
    """The size that stands before token `first`, as it would be written, and where the wording begins: ("7/16", 3), (None, first)."""
    i = first - 1
    while i >= 0 and doc[i].lower_ in _BETWEEN:
        i -= 1
    if i < 0:
        return None, first
    word = doc[i].lower_
    glued = re.fullmatch(r"(\d+(?:\.\d+)?)-?(mm|mil|mill|millimeter|millimetre)", word)
    if glued:
        return f"{glued[1]} mm", i
    if word in _MILLIMETRES:
        j = i - 1
        while j >= 0 and doc[j].text == "-":
            j -= 1
        if j >= 1 and doc[j].lower_ == "half" and doc[j - 1].lower_ in ("a", "and"):
            whole = _value(doc[j - 3].lower_) if j >= 3 and doc[j - 2].lower_ == "and" else None
            return (f"{whole}.5 mm", j - 3) if whole is not None else (None, first)
        if j >= 0 and re.fullmatch(r"\d+\.\d+", doc[j].text):
            return f"{doc[j].text} mm", j
        number = _value(doc[j].lower_) if j >= 0 else None
        if number is not None:
            if j >= 2 and doc[j - 1].lower_ == "point" and _value(doc[j - 2].lower_) is not None:
                return f"{_value(doc[j - 2].lower_)}.{number} mm", j - 2
            return f"{number} mm", j
        return None, first
    if re.fullmatch(r"\d+/\d+", word):
        return word, i
    if re.fullmatch(r"\d+\.\d+", word):
        return f"{word} mm", i  # "a one point five key": what is written with a point is metric
    if word in _NUMBERS and i >= 2 and doc[i - 1].lower_ == "point" and _value(doc[i - 2].lower_) is not None:
        return f"{_value(doc[i - 2].lower_)}.{_value(word)} mm", i - 2
    if word == "half" and i >= 3 and doc[i - 1].lower_ == "a" and doc[i - 2].lower_ == "and" and _value(doc[i - 3].lower_) is not None:
        return f"{_value(doc[i - 3].lower_)}.5 mm", i - 3  # "the two and a half driver"
    if word in _PARTS:
        j = i - 1
        while j >= 0 and doc[j].text in ("-", ","):
            j -= 1
        above = (1 if word in ("half", "quarter") and (j < 0 or _value(doc[j].lower_) is None) else _value(doc[j].lower_)) if j >= -1 else None
        if j >= 0 and doc[j].lower_ in ("a", "an"):
            above = 1
        if above is None:
            return None, first
        return f"{above}/{_PARTS[word]}", max(min(j, i) if above != 1 or j >= 0 and _value(doc[j].lower_) is not None else i, 0)
    if re.fullmatch(r"#\d+", word):
        return word, i
    if re.fullmatch(r"t\d+", word):
        return word.upper(), i
    number = _value(word)
    if number is not None and i >= 1 and doc[i - 1].lower_ in _NUMBER_WORDS:
        return f"#{number}", i - 1
    if number == 0 and doc[first].lower_ in _CROSS:
        return "#0", i  # "a zero Phillips"; "two Phillips" are two screws
    return None, first


def size_after(doc: Doc, last: int) -> tuple[str | None, int]:
    """The size that stands after the tool: "a Phillips number two"."""
    rest = [t.lower_ for t in doc[last + 1:last + 3]]
    if len(rest) == 2 and rest[0] in _NUMBER_WORDS and _value(rest[1]) is not None:
        return f"#{_value(rest[1])}", last + 2
    if rest and re.fullmatch(r"#\d", rest[0]):
        return rest[0], last + 1
    if rest and doc[last].lower_ in _CROSS and (number := _value(rest[0])) is not None and number <= 3 and (len(rest) == 1 or rest[1] in _ENDS or not rest[1][0].isalnum()):
        return f"#{number}", last + 1  # "two screws, Phillips zero"
    return None, last


def grit_before(doc: Doc, first: int) -> tuple[str | None, int]:
    """The grit that stands before the paper, and where the wording begins: ("600", 4), (None, first)."""
    i = first - 1
    while i >= 0 and doc[i].lower_ in ("-", "grit", "wet", "and", "dry", "emery"):
        i -= 1
    total, j = 0, i
    words = []
    while j >= 0 and (doc[j].lower_ in _NUMBERS or doc[j].lower_ in ("hundred", "thousand") or doc[j].text.replace(",", "").isdigit()):
        words.insert(0, doc[j].lower_.replace(",", ""))
        j -= 1
    for word in words:
        if word == "hundred":
            total = max(total, 1) * 100
        elif word == "thousand":
            total = max(total, 1) * 1000
        else:
            total += _value(word)
    return (str(total), j + 1) if 60 <= total <= 20000 else (None, first)
