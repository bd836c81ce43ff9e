"""The number of a reel's model, as it is spoken or written: "twenty five hundred" is 2500, "four aught" 4/0, "thirty L W" 30LW."""

import re

from spacy.tokens import Doc

UNITS = {w: n for n, w in enumerate("zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split())}
TENS = {w: 10 * n for n, w in enumerate("twenty thirty forty fifty sixty seventy eighty ninety".split(), 2)}
_NUMBER = re.compile(r"[A-Z]{0,4}-?\d{1,5}(?:,\d{3})?(?:/\d{1,2})?[A-Z]{0,4}(?:-\d{1,2})?")


def spoken_model(doc: Doc, at: int) -> tuple[str, int]:
    """A model's number at token `at`, written out, and the token after it; ("", at) where there is none.

    "twenty five hundred" is 2500, "one oh one" 101, "four aught" 4/0, "seventy three hundred C" 7300C, "thirty L W" 30LW, "L D thirty" LD30.
    """
    letters, i = "", at
    while i < len(doc) and re.fullmatch(r"[A-Z]", doc[i].text) and doc[i].text not in ("I", "A") and len(letters) < 3:
        letters, i = letters + doc[i].text, i + 1
    written, end = _written_number(doc, i)
    if not written:
        return "", at
    return letters + written + (after := _letters_after(doc, end))[0], after[1]


def _letters_after(doc: Doc, at: int) -> tuple[str, int]:
    """The letters of a model after its number, said as one or one by one: "thirty LW", "thirty L W", "thirty-L-W"."""
    letters, end = "", at
    while True:
        here = end + 1 if end + 1 < len(doc) and doc[end].text == "-" else end
        if here >= len(doc) or not re.fullmatch(r"[A-Z]{1,3}", doc[here].text) or doc[here].text in ("I", "A", "OK") or len(letters + doc[here].text) > 3:
            return letters, end
        letters, end = letters + doc[here].text, here + 1


def _written_number(doc: Doc, i: int) -> tuple[str, int]:
    if i >= len(doc):
        return "", i
    text = re.sub(r"^(\d+)['’]?s$", r"\1", doc[i].text.rstrip(".,"))
    if _NUMBER.fullmatch(text) and any(c.isdigit() for c in text):
        after = i + 1
        if after + 1 < len(doc) and doc[after].text == "/" and doc[after + 1].text.isdigit():
            return f"{text}/{doc[after + 1].text}", after + 2
        if after < len(doc) and doc[after].lower_ in ("aught", "ought", "0") and text in "123456789":
            return f"{text}/0", after + 1
        return text.replace(",", ""), after
    words = []
    while i + len(words) < len(doc):
        word = re.sub(r"ies$", "y", doc[i + len(words)].lower_)  # "one of their old thirties"
        if word in UNITS or word in TENS or words and word in ("hundred", "thousand", "oh", "o", "aught", "ought", "and"):
            words.append(word)
        elif words and word == "-" or word == "slash" and words:
            words.append("-" if word == "-" else "/")
        else:
            break
    if not words:
        return "", i
    speeds = doc[i + len(words):i + len(words) + 2].text.lower().strip(" -").startswith("speed")  # "the thirty two speed" has two speeds
    if speeds and words and words[-1] in ("one", "two", "three"):
        words.pop()
    while words and words[-1] in ("and", "-", "/", "oh", "o"):
        words.pop()
    return (_digits(words), i + len(words)) if words else ("", i)


def _digits(words: list[str]) -> str:
    plain = [w for w in words if w not in ("-", "and")]
    if "/" in plain:
        cut = plain.index("/")
        return f"{_digits(plain[:cut])}/{_digits(plain[cut + 1:])}"
    if len(plain) == 2 and plain[0] in UNITS and plain[1] in ("aught", "ought"):
        return f"{UNITS[plain[0]]}/0"
    groups: list[str] = []
    total = 0
    for n, word in enumerate(plain):
        if word == "hundred":
            total = (total or 1) * 100
        elif word == "thousand":
            total = (total or 1) * 1000
        elif word in ("oh", "o", "aught", "ought"):
            groups += [str(total)] if total or not groups else []
            groups.append("0")
            total = 0
        else:
            value = UNITS.get(word, TENS.get(word, 0))
            if total and (total < 20 or total % 10 or value >= 20 and total < 100):
                groups.append(str(total))
                total = value
            else:
                total += value
    if total or not groups:
        groups.append(str(total))
    return "".join(groups)
