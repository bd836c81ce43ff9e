"""A tidy statement out of the talk: the clauses that matter, without the waffle."""

import re

LONGEST = 160  # characters of a statement

_BOUND = re.compile(r"[.?!;]+\s+|,\s+")
_STOP = re.compile(r"[.?!;]\s")
_FILLER = re.compile(
    r"(?<![\w'])(?:um+|uh+|er+|hm+|mm+|oh|ah|phew|okay|ok|alright|all right|right|so|and so|well|now|look|see|listen|like|you know|i mean|"
    r"folks|anyhow|anyway|yeah|and|but|then|because|'cause|cause)(?![\w'])[,.]?\s*", re.I)
_MUMBLE = re.compile(r"(?:,\s*)?(?<![\w'])(?:um+|uh+|er+|hm+|you know|i mean|like,)(?![\w'])(?:,\s*|\s+)?", re.I)


def statement(text: str, start: int, end: int) -> tuple[str, int, int]:
    """The clauses of `text` around [start, end) as one tidy sentence, with the offsets they take up."""
    stops = [0, *(m.end() for m in _STOP.finditer(text)), len(text)]
    first = max(s for s in stops if s <= start)
    last = min((s for s in stops if s >= end), default=len(text))
    if last - first > LONGEST:
        bounds = [first, *(m.end() for m in _BOUND.finditer(text, first, last)), last]
        first = max(b for b in bounds if b <= start)
        last = next((b for b in bounds if b >= end), last)
        for b in bounds:
            if last < b <= first + LONGEST:
                last = b
    return tidy(text[first:last]), first, last


def tidy(text: str) -> str:
    """Without opening filler, mumbling and loose ends; one capital, one full stop."""
    text = " ".join(text.split()).strip(" ,;")
    while (opening := _FILLER.match(text)) and opening.end() < len(text):
        text = text[opening.end():]
    text = _MUMBLE.sub(" ", text)
    text = " ".join(text.split()).strip(" ,;.")
    text = re.sub(r"\s+([,.?!])", r"\1", text)
    return text[:1].upper() + text[1:] + ("" if text[-1:] in "?!" else ".") if text else text
