"""Numbers as the trade says them, and as a speech model writes what it heard: to values as they would be written.

`find_numbers("three and a quarter to one")` gives one `Number` of kind "ratio" and value "3.25:1". Words, digits and
mixtures of both are read ("7 16ths", "point 3 of a millimetre", "3, 8, 24"). Units, threads and bearings are data: sizes.toml.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from functools import cache, lru_cache
from itertools import groupby
from typing import Literal

from . import data

Kind = Literal[
    "count", "fraction", "length", "weight", "volume", "ratio", "torque", "thread", "part_number", "percent", "angle", "turn",
    "drop", "time", "speed", "electric", "grade", "driver", "year", "price",
]


@dataclass(frozen=True, slots=True)
class Number:
    """One number in a text. `start`, `end`: character offsets. `value`: as written ("2.5 mm"). `amount`: before the unit is scaled."""

    start: int
    end: int
    kind: Kind
    value: str
    amount: Fraction | None = None
    confidence: float = 0.9


@dataclass(frozen=True, slots=True)
class _Token:
    text: str
    start: int
    end: int

    @property
    def low(self) -> str:
        return self.text.lower()


BARE = {"count", "fraction"}   # kinds without a unit
_ONES = {w: i for i, w in enumerate(
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split())}
_TENS = {w: 10 * i for i, w in enumerate("twenty thirty forty fifty sixty seventy eighty ninety".split(), 2)} | {"fourty": 40}
_ZERO = {"oh", "o", "zero", "nought", "naught", "ought"}
_HOMOPHONES = {"won": 1, "to": 2, "too": 2, "for": 4, "ate": 8, "owe": 0}  # trusted only inside a part number
_PARTS_OF_ONE = {
    "half": 2, "halves": 2, "third": 3, "quarter": 4, "fourth": 4, "fifth": 5, "sixth": 6, "eighth": 8, "tenth": 10, "hundredth": 100, "twelfth": 12,
    "sixteenth": 16, "thirty-second": 32, "thirtysecond": 32, "sixty-fourth": 64, "16th": 16, "32nd": 32, "64th": 64, "8th": 8, "4th": 4,
} | {"heighth": 8, "eights": 8}
_GLYPHS = {"½": Fraction(1, 2), "¼": Fraction(1, 4), "¾": Fraction(3, 4), "⅛": Fraction(1, 8), "⅜": Fraction(3, 8), "⅝": Fraction(5, 8), "⅞": Fraction(7, 8)}
_TOKEN = re.compile(r"\d{1,3}(?:,\d{3})+(?!\d)|\d+(?:ths?|nds?|rds?|st)(?![a-z])|\d+(?:\.\d+)?|\.\d+|[^\W\d_]+(?:['’][a-z]+)?|\S", re.I)
_LENGTH_SAID = re.compile(r"\b(?:long|short)(?:er)?(?: ones?| screws?)?(?:'s| is| are)?,? $", re.I)
_SAYS_NUMBER = re.compile(r"(?:part|order|stock|catalogue|catalog|schematic)\s+(?:number|no\b|num)|\bnumbers?\b|\bp/n\b|\bpart\s*#", re.I)


def find_numbers(text: str) -> list[Number]:
    """The numbers of a text in order, none overlapping. Plain counts are among them, with kind "count"."""
    return list(_read(text))


@lru_cache(maxsize=4096)  # mending and reading ask about the same sentences
def _read(text: str) -> tuple[Number, ...]:
    return tuple(_Reader(text).read())


def _tokens(text: str) -> list[_Token]:
    found = [_Token(m[0], m.start(), m.end()) for m in _TOKEN.finditer(text)]
    out: list[_Token] = []
    for i, t in enumerate(found):
        # "62-226.2 of a gram" is a part number and ".2 of a gram" run together; "18-1.04" is "18-104"
        if "." in t.text[1:-1] and t.text[0].isdigit() and i > 1 and found[i - 1].text == "-" and found[i - 2].end == found[i - 1].start:
            cut = t.start + t.text.index(".")
            if i + 1 < len(found) and found[i + 1].low == "of":
                out += [_Token(text[t.start:cut], t.start, cut), _Token(text[cut:t.end], cut, t.end)]
            else:
                out.append(_Token(t.text.replace(".", ""), t.start, t.end))
        elif t.text[0] == "." and t.text[1:].isdigit() and out and out[-1].text.isdigit() and text[out[-1].end:t.start] == " " \
                and (len(out) < 2 or out[-2].text not in "-–" or out[-2].end < out[-1].start):
            out[-1] = _Token(out[-1].text + t.text, out[-1].start, t.end)  # "3 .8 to 1"
        else:
            out.append(t)
    return out


@cache
def _units() -> dict[tuple[str, ...], dict]:
    table = {}
    for unit in data("sizes")["unit"]:
        for say in unit["say"]:
            words = tuple(re.findall(r"[^\W\d]+|%", say.lower()))
            table[words] = unit
            table[(*words[:-1], words[-1] + "s")] = unit
            if len(words) > 1:
                table[(*(w + "s" if w in ("newton", "inch", "foot") else w for w in words[:-1]), words[-1] + "s")] = unit
    return table


@cache
def _threads() -> dict[str, tuple[int, ...]]:
    return {size: tuple(pitches) for size, pitches in data("sizes")["threads"].items()}


def written(amount: Fraction, *, fraction: bool = False) -> str:
    """An amount in digits: "2.5", or "2 1/4" where fractions of an inch are the custom and it is a binary one (but "4.5", "1/2")."""
    whole, rest = divmod(amount, 1)
    if fraction and amount.denominator in (2, 4, 8, 16, 32, 64) and not (whole and amount.denominator == 2):
        return f"{whole} {rest}" if whole else str(rest)
    if amount.denominator == 1:
        return str(amount.numerator)
    return f"{Decimal(amount.numerator) / Decimal(amount.denominator):.4f}".rstrip("0")


class _Reader:
    def __init__(self, text: str) -> None:
        self.text, self.tokens = text, _tokens(text)
        self.lows = [t.low for t in self.tokens]

    def low(self, i: int) -> str:
        return self.lows[i] if 0 <= i < len(self.lows) else ""

    def number(self, i: int, j: int, kind: Kind, value: str, amount: Fraction | None = None, confidence: float = 0.9) -> tuple[Number, int]:
        return Number(self.tokens[i].start, self.tokens[j - 1].end, kind, value, amount, confidence), j

    def read(self) -> list[Number]:
        found, i = [], 0
        while i < len(self.tokens):
            for reading in (self.part_number, self.metric_thread, self.grade, self.driver, self.thread, self.ratio, self.price, self.size, self.year, self.plain):
                if hit := reading(i):
                    number, i = hit
                    found.append(number)
                    break
            else:
                i += 1
        return found

    # amounts

    def whole(self, i: int) -> tuple[int, int, bool] | None:
        """A whole number at token i: value, the token after it, whether it was in digits."""
        word = self.low(i)
        if word[:1].isdigit() and re.fullmatch(r"\d{1,3}(,\d{3})+|\d{1,9}", word):
            return int(word.replace(",", "")), i + 1, True
        if word == "a" and self.low(i + 1) in ("hundred", "thousand", "dozen"):
            value, j = 1, i + 1
        elif word in _ONES:
            value, j = _ONES[word], i + 1
        elif word in _TENS:
            value, j = _TENS[word], i + 1
            if self.low(j) == "-" and 0 < _ONES.get(self.low(j + 1), 0) < 10:
                j += 1
            if 0 < _ONES.get(self.low(j), 0) < 10:
                value, j = value + _ONES[self.low(j)], j + 1
        else:
            return None
        if self.low(j) == "dozen":
            return value * 12, j + 1, False
        for name, size in (("hundred", 100), ("thousand", 1000)):
            if self.low(j) == name:
                value, j = value * size, j + 1
                k = j + 1 if self.low(j) == "and" else j
                rest = self.whole(k)
                if rest and not rest[2] and 0 < rest[0] < size and self.low(k) != "a":
                    value, j = value + rest[0], rest[1]
        return value, j, False

    def hundreds(self, i: int) -> tuple[Fraction, int] | None:
        """ "one ninety", "two oh five": hundreds whose "hundred" is left out. """
        top = _ONES.get(self.low(i), 0)
        if not 0 < top < 10:
            return None
        if self.low(i + 1) in _ZERO and 0 < _ONES.get(self.low(i + 2), 0) < 10:
            return Fraction(100 * top + _ONES[self.low(i + 2)]), i + 3
        rest = self.whole(i + 1)
        return (Fraction(100 * top + rest[0]), rest[1]) if rest and not rest[2] and 10 <= rest[0] < 100 else None

    def part_of_one(self, i: int) -> tuple[int, int] | None:
        """A denominator word at token i: ("eighths" -> 8), and the token after it."""
        word = self.low(i)
        if self.low(i) in ("thirty", "sixty") and self.low(i + 1) in ("second", "seconds", "fourth", "fourths"):
            return {"thirty": 32, "sixty": 64}[word], i + 2
        for form in (word, word[:-1] if word.endswith("s") else word):
            if form in _PARTS_OF_ONE:
                return _PARTS_OF_ONE[form], i + 1
        return None

    def fraction(self, i: int) -> tuple[Fraction, int] | None:
        """A fraction below one at token i: "half", "a quarter", "five eighths", "7, 16ths", "5/8"."""
        if self.low(i) in _GLYPHS:
            return _GLYPHS[self.low(i)], i + 1
        start = i + 1 if self.low(i) in ("a", "an") else i
        if self.low(start) in ("half", "quarter", "third") or (start > i and self.part_of_one(start)):
            denominator, j = self.part_of_one(start)
            return Fraction(1, denominator), j
        top = self.whole(i)
        if not top:
            return None
        value, j, _ = top
        if self.low(j) == "/" and (bottom := self.whole(j + 1)) and bottom[0] in (2, 3, 4, 8, 16, 32, 64) and value < bottom[0]:
            j = bottom[1]
            return Fraction(value, bottom[0]), j + 1 if self.low(j) in ("ths", "th", "nds", "s") else j
        if self.low(j) in ("/", ","):
            k = j + 1
            if not self.low(k)[:1].isdigit() or not self.part_of_one(k):
                return None
        else:
            k = j + (self.low(j) == "-" and self.tokens[j].start == self.tokens[j - 1].end)  # "five-eighths"
            eighths = re.fullmatch(r"(8|16|32)(?:s|ths)?", self.low(k))
            if k > j and eighths and (self.low(k) != eighths[1] or self.low(k + 1) in ("s", "ths") and self.tokens[k + 1].start == self.tokens[k].end) and value < int(eighths[1]):
                return Fraction(value, int(eighths[1])), k + 1 + (self.low(k) == eighths[1])  # "7-8s"
        bottom = self.part_of_one(k)
        if bottom and 0 < value < bottom[0] and not (self.low(k) == "half"):
            return Fraction(value, bottom[0]), bottom[1]
        return None

    def a_half(self, i: int) -> tuple[Fraction, int] | None:
        """ "a-half" written with hyphens, as in "four-and-a-half-inch". """
        if self.low(i) == "a" and self.low(i + 1) == "-" and (part := self.part_of_one(i + 2)):
            return Fraction(1, part[0]), part[1]
        return None

    def amount(self, i: int) -> tuple[Fraction, int, bool] | None:
        """Any amount at token i: value, the token after it, whether it was a fraction of one."""
        if point := self.decimals(i):
            return point[0], point[1], False
        if part := self.fraction(i):
            return part[0], part[1], True
        word = self.low(i)
        if re.fullmatch(r"\d*\.\d+", word):
            return Fraction(word), i + 1, False
        whole = self.whole(i)
        if not whole and word in _ZERO and self.low(i + 1) == "point":
            whole = 0, i + 1, False
        if not whole:
            return None
        value, j, digits = whole
        if point := self.decimals(j):
            return value + point[0], point[1], False
        k = j + 1 if self.low(j) == "-" and self.tokens[j].start == self.tokens[j - 1].end else j
        k += self.low(k) == "and"
        k += k > j and self.low(k) == "-"
        rest = self.a_half(k) or self.fraction(k)
        if rest and (k > j or (digits and self.tokens[k].text[0].isdigit() and "/" in self.text[self.tokens[k].start:self.tokens[rest[1] - 1].end])):
            return value + rest[0], rest[1], False
        if self.low(j) in _GLYPHS:
            return value + _GLYPHS[self.low(j)], j + 1, False
        return Fraction(value), j, False

    def decimals(self, i: int) -> tuple[Fraction, int] | None:
        """ "point two five" at token i, as a part of one. """
        if self.low(i) != "point":
            return None
        digits, j = "", i + 1
        while (step := self.digits(j, trusting=False)) and (not digits or not self.low(j)[:1].isdigit()):
            digits, j = digits + step[0], step[1]
        return (Fraction(f"0.{digits}"), j) if digits and len(digits) <= 6 else None

    def digits(self, i: int, *, trusting: bool) -> tuple[str, int] | None:
        """One spoken group of digits at token i: "oh", "eighteen", "thirty one", "226". `trusting` takes "won" and "for" too."""
        word = self.low(i)
        if word.isdecimal():
            return word, i + 1
        if word in _ZERO:
            return "0", i + 1
        if word in ("double", "triple") and (one := self.digits(i + 1, trusting=trusting)) and len(one[0]) == 1:
            return one[0] * (2 if word == "double" else 3), one[1]
        if trusting and word in _HOMOPHONES:
            return str(_HOMOPHONES[word]), i + 1
        if word == "a" or not (whole := self.whole(i)):
            return None
        return str(whole[0]), whole[1]

    # readings: each gives (number, next token) or None

    def group(self, i: int) -> tuple[str, int] | None:
        """The run of digits of a part number's group at token i, "two oh four" -> "204"."""
        if self.low(i) in ("4", "6", "7", "8", "9", "four", "six", "seven", "eight", "nine") and self.low(i + 1) in ("and", "an", "n") \
                and self.low(i + 2) in data("sizes")["words"]["dash"]:
            return f"1{self.digits(i, trusting=False)[0]}", i + 2  # "eighteen dash" heard as "eight and dash"
        text, j = "", i
        while step := self.digits(j, trusting=bool(text) or self.is_dash(j - 1) or self.announced(i)):
            if text and self.low(j) in ("to", "too", "for") and not self.digits(step[1], trusting=False):
                break
            if text and self.low(j).isdecimal() and self.tokens[j].start > self.tokens[j - 1].end + 1 and not (self.is_dash(i - 1) and len(self.low(j)) == len(self.low(j - 1)) == 1):
                break  # "dash 1 1 7 2" is one group
            text, j = text + step[0], step[1]
            if len(text) > 8:
                break
        return (text, j) if text else None

    def is_dash(self, i: int) -> bool:
        return self.low(i) in ("dash", "hyphen", "-", "–")

    def joint(self, i: int) -> tuple[str, int, bool] | None:
        """What joins two groups of a part number at token i ("-", ", dash,", "stroke"): as written, the token after it, whether it was spoken."""
        words = data("sizes")["words"]
        said = words["dash"] + words["stroke"]
        first = j = i + (self.low(i) == "," and self.low(i + 1) in said)
        while self.is_dash(j) and j < first + 3:
            j += 1
        sign = "-"
        if j == first and self.low(j) in words["stroke"]:
            sign, j = "/", j + 1
        if j == first:
            return None
        spoken = any(self.low(k) in said for k in range(first, j))
        return sign, j + (spoken and self.low(j) == ","), spoken

    def letters(self, i: int) -> tuple[str, int] | None:
        """One to three letters of a part number: "V K", "VK", "B"."""
        text, j = "", i
        while j < len(self.tokens) and re.fullmatch(r"[A-Z]", self.tokens[j].text) and len(text) < 3:
            text, j = text + self.tokens[j].text, j + 1
        if text:
            return text, j
        return (self.tokens[i].text, i + 1) if i < len(self.tokens) and re.fullmatch(r"[A-Z]{2,3}", self.tokens[i].text) else None

    def piece(self, i: int, *, first: bool) -> tuple[str, int] | None:
        """One group of a part number with letters before or behind its digits: "T W", "G four", "nine E" before a dash, "twelve C", "D P"."""
        letters = self.letters(i)
        text, j = letters or ("", i)
        if not (digits := self.group(j)):
            return (text, j) if letters and (self.joint(j) if first else True) else None
        text, j = text + digits[0], digits[1]
        behind = None if letters and first else self.letters(j)
        if behind and len(behind[0]) < 2 + (not first):  # "8K-119", but "three TW-1508" are three of them
            hangs = self.tokens[j].start == self.tokens[j - 1].end
            ends = behind[0] not in ("A", "I") and self.low(behind[1]) in ("", ",", ".", ";", "?", "!", "and", "or", "if")
            if self.joint(behind[1]) if first else hangs or ends:
                text, j = text + behind[0], behind[1]
        return text, j

    def part_number(self, i: int) -> tuple[Number, int] | None:
        opening = self.piece(i, first=True)
        if not opening:
            return None
        spoken_for, groups, signs, j, spelled = self.announced(i), [opening[0]], [], opening[1], False
        while (joint := self.joint(j)) and (more := self.piece(joint[1], first=False)):
            signs.append(joint[0])
            groups.append(more[0])
            spelled |= joint[2]
            j = more[1]
        if any(not g.isdecimal() for g in groups):
            return self.lettered(i, j, groups, signs, spoken_for=spoken_for, spelled=spelled)
        if "/" in signs:
            return self.number(i, j, "part_number", "/".join(groups), confidence=0.75) if spoken_for else None
        groups = groups[:1] + _run_together(groups[1:])
        value = "-".join(groups)
        if len(groups) > 1:
            if len(groups) == 2 and not spoken_for and int(groups[1]) in _threads().get(groups[0].lstrip("0") or "0", ()):
                return None  # a thread: "six dash thirty two"
            plain = spoken_for or spelled or sum(map(len, groups)) >= 5 and len(groups[-1]) >= 2
            if plain and not self.unit(j):
                return self.number(i, j, "part_number", value, confidence=0.95 if spoken_for or spelled else 0.75)
            return None
        if spoken_for and len(value) >= 3 and not self.unit(j):
            return self.number(i, j, "part_number", value, confidence=0.7)
        return None

    def lettered(self, i: int, j: int, groups: list[str], signs: list[str], *, spoken_for: bool, spelled: bool) -> tuple[Number, int] | None:
        """A part number with letters in it. Letters and a round number without a spoken dash are a reel's name ("BX-3000") unless a number is announced."""
        head, kit = groups[0], self.low(j) in data("sizes")["words"]["kit"]
        digits = re.sub(r"\D", "", "".join(groups))
        letters = head.rstrip("0123456789")
        if not digits or letters in ("I", "A") and not (spelled or spoken_for):
            return None
        if len(groups) == 1:
            if not (spoken_for or kit) or not letters or letters in ("M", "T") or len(letters) == len(head):
                return None
            short = len(letters) == 2 and len(digits) < 3  # "C B fifteen" is written CB-15
            return self.number(i, j, "part_number", f"{letters}-{digits}" if kit or short else head, confidence=0.85)
        if signs == ["-"] * len(signs):
            groups = groups[:1] + _run_together(groups[1:])
            signs = ["-"] * (len(groups) - 1)
        standard = letters in ("ISO", "DIN", "SAE", "PE", "UNC", "UNF") or letters in ("M", "T") and not (spelled or spoken_for) and len(groups[-1]) < 3
        model = head.isalpha() and len(groups) == 2 and groups[1].isdecimal() and int(groups[1]) % 50 == 0
        if not (spoken_for or spelled or kit or len(digits) >= 3 and not model) or standard or self.unit(j) and not spelled:
            return None
        value = groups[0] + "".join(map("".join, zip(signs, groups[1:])))
        return self.number(i, j, "part_number", value, confidence=0.9 if spoken_for or spelled else 0.75)

    def announced(self, i: int) -> bool:
        """Whether the words just before token i announce a part number ("part number is", "the number on those is")."""
        at = self.tokens[i].start if i < len(self.tokens) else len(self.text)
        before = self.text[max(0, at - 40):at]
        hits = list(_SAYS_NUMBER.finditer(before))
        return bool(hits) and not re.search(r"[.?!]|\d", before[hits[-1].end():]) and len(before[hits[-1].end():].split()) <= 5

    def thread(self, i: int) -> tuple[Number, int] | None:
        """A Unified thread: "six thirty two", "632", "quarter 28", "3, 8, 24", "five eighths dash thirty two"."""
        skip = lambda k: k + 1 if self.low(k) in (",", "-", "dash", "/") else k
        series = r"(unc|unf|unef|uns)"
        sizes = []
        if part := self.fraction(i):
            sizes.append((str(part[0]), part[1], 0.9))
        top = self.whole(i)
        if top and top[0] in (1, 3, 5, 7, 9) and (bottom := self.whole(skip(top[1]))) and bottom[0] in (4, 8, 16) and top[0] < bottom[0]:
            sizes.append((f"{top[0]}/{bottom[0]}", bottom[1], 0.7))  # "three eighths" heard as "three, eight"
        if top and top[0] <= 12:
            sizes.append((str(top[0]), top[1], 0.8))
        for size, j, confidence in sizes:
            if self.low(j) == "inch":
                continue
            k = skip(j)
            pitch = self.whole(k)
            if pitch and pitch[0] in _threads().get(size, ()) and not self.unit(pitch[1]):
                ambiguous = self.low(j) == "," and size.isdigit()
                if not (ambiguous and self.low(pitch[1]) == ","):
                    return self.number(i, pitch[1], "thread", f"{size}-{pitch[0]}", confidence=confidence - 0.2 * ambiguous)
        if top and top[2] and top[1] == i + 1 and 3 <= len(self.low(i)) <= 4 and not self.unit(top[1]):
            for size in (self.low(i)[:1], self.low(i)[:2]):
                pitch = self.low(i)[len(size):]
                if pitch and int(pitch) in _threads().get(size, ()):
                    return self.number(i, top[1], "thread", f"{size}-{pitch}", confidence=0.5 + 0.3 * bool(re.match(series, self.low(top[1]))))
        return None

    def metric_thread(self, i: int) -> tuple[Number, int] | None:
        """ "M three", "M2.5 by 0.45": the nominal size must be one that has a coarse pitch. Also British Association, "four B A"."""
        if self.tokens[i].text == "M" and (size := self.amount(i + 1)) and written(size[0]) in data("sizes")["metric_coarse"]:
            if self.low(size[1]) in ("by", "x", "×") and (pitch := self.amount(size[1] + 1)) and pitch[0] < 3:
                return self.number(i, pitch[1], "thread", f"M{written(size[0])} x {written(pitch[0])}")
            return self.number(i, size[1], "thread", f"M{written(size[0])}")
        size = self.whole(i)
        if size and size[0] <= 16:
            for j in (size[1] + 1, size[1] + 2):
                if "".join(t.text for t in self.tokens[size[1]:j]) == "BA":
                    return self.number(i, j, "thread", f"{size[0]} BA")
        return None

    def grade(self, i: int) -> tuple[Number, int] | None:
        """Grades of grease and oil: "NLGI two", "ISO VG 32", "ten W forty", "twenty weight"."""
        name = self.low(i)
        if name == "nlgi" or (name == "iso" and self.low(i + 1) == "vg"):
            j = i + 1 + (name == "iso")
            j += self.low(j) in ("grade", "number", "#")
            if self.low(j) in ("double", "triple") and self.low(j + 1) in _ZERO or self.low(j) in _ZERO:
                zeros = self.group(j)
                return self.number(i, zeros[1], "grade", f"NLGI {zeros[0]}")
            if whole := self.whole(j):
                return self.number(i, whole[1], "grade", f"{'NLGI' if name == 'nlgi' else 'ISO VG'} {whole[0]}")
        cold = self.whole(i)
        if cold and self.low(cold[1]) == "w" and self.low(cold[1] - 1) != "a":
            j = cold[1] + 1
            j += self.is_dash(j)
            if hot := self.whole(j):
                return self.number(i, hot[1], "grade", f"{cold[0]}W-{hot[0]}")
        if cold and self.low(cold[1]) == "weight" and self.low(cold[1] + 1) in ("oil", "motor", ",", ".", ""):
            return self.number(i, cold[1] + 1, "grade", f"{cold[0]} weight")
        return None

    def driver(self, i: int) -> tuple[Number, int] | None:
        """ "number zero Phillips", "#2", "T10": the bit's size is the tool's name, no measure of the reel."""
        if self.low(i) in ("number", "no", "#", "numbers") and (size := self.digits(i + 1 + (self.low(i + 1) in (".", ",")), trusting=True)):
            if self.low(i - 1) in ("part", "order", "stock") or self.group(i + 1) != size or self.part_number(i + 1):
                return None
            driver = any(self.low(k) in data("sizes")["words"]["driver"] for k in (size[1], size[1] + 1))
            if len(size[0]) == 1 and (driver or self.low(i) == "#" or self.low(i + 1) not in _HOMOPHONES):
                return self.number(i, size[1], "driver", f"#{size[0]}", confidence=0.95 if driver else 0.6)
        if self.tokens[i].text == "T" and (size := self.whole(i + 1)) and 3 <= size[0] <= 40:
            return self.number(i, size[1], "driver", f"T{size[0]}")
        return None

    def ratio(self, i: int) -> tuple[Number, int] | None:
        turns = self.amount(i)
        if not turns or not Fraction(1, 2) <= turns[0] <= 30:
            return None
        after = [k for k in range(turns[1], min(turns[1] + 5, len(self.tokens))) if self.low(k) != "-"][:2]
        if [self.low(k) for k in after] in (["to", "one"], ["to", "1"], ["to", "won"], [":", "1"]):
            return self.number(i, after[-1] + 1, "ratio", f"{written(turns[0])}:1", turns[0], 0.9 if turns[0].denominator > 1 else 0.75)
        return None

    def price(self, i: int) -> tuple[Number, int] | None:
        """ "forty bucks", "£3.50", "cost me twelve pounds": pounds are money only after a word of paying. """
        money = data("sizes")["money"]
        sign = self.tokens[i].text if self.tokens[i].text in money["signs"] else ""
        amount = self.amount(i + bool(sign))
        if not amount:
            return None
        j = amount[1]
        if not sign:
            sign = money["said"].get(self.low(j), "")
            paid = {t.low for t in self.tokens[max(0, i - 5):i]} & set(money["paid"])
            sign = sign or (money["after_paying"].get(self.low(j), "") if paid else "")
            j += 1
        value = f"{float(amount[0]):.2f}".removesuffix(".00")
        return self.number(i, j, "price", sign + value, amount[0], 0.9) if sign else None

    def unit(self, i: int) -> tuple[dict, int] | None:
        """A unit's name at token i, the longest that fits: its row of sizes.toml, and the token after it."""
        if self.low(i) in ("-",) and i and self.tokens[i].start == self.tokens[i - 1].end:
            i += 1
        for length in (4, 3, 2, 1):
            words, j = [], i
            while len(words) < length and j < len(self.tokens):
                if self.low(j) != "-":
                    words.append(self.low(j).removesuffix("'s"))
                j += 1
            if unit := _units().get(tuple(words)):
                return unit, j
        return None

    def size(self, i: int) -> tuple[Number, int] | None:
        """An amount with its unit, or a row of them: "forty two thou", "half an ounce", "three by ten by four millimetre"."""
        if hit := self.single(i) or self.lost_eighths(i) or self.run_together(i):
            return hit
        first = self.amount(i)
        if not first:
            return None
        amounts, j = [first[0]], first[1]
        row_unit = None
        while len(amounts) < 3:
            named = self.unit(j)
            k = named[1] if named and named[0]["kind"] == "length" else j
            if self.low(k) not in ("by", "x", "×") or not (more := self.amount(k + 1)):
                break
            row_unit = named or row_unit
            amounts.append(more[0])
            j = more[1]
        if len(amounts) == 1 and (more := self.hundreds(i)) and self.low(more[1]) in ("gram", "grams", "gramme", "grammes", "yard", "yards"):
            first, j = (more[0], more[1], False), more[1]
        k = j
        if self.low(k) in ("of", "to") and (self.low(k + 1) in ("a", "an", "the") or first[0] < 1):
            k += 1 + (self.low(k + 1) in ("a", "an", "the"))
        elif first[2] and self.low(k) in ("a", "an"):
            k += 1
        unit = self.unit(k) or self.unit(j)
        if len(amounts) > 1:
            if not unit and not row_unit and len(amounts) < 3:
                return None
            symbol, end = (unit[0]["symbol"], unit[1]) if unit else (row_unit[0]["symbol"] if row_unit else "mm", j)
            if symbol == "mm":
                amounts = _mend_bearing(amounts)
            row = " x ".join(written(a, fraction=symbol == "in") for a in amounts)
            return self.number(i, end, "length", f"{row} {symbol}", confidence=0.95 if unit else 0.85)
        if not unit or (k > j and self.unit(k) is None):
            if first[2] and first[0].denominator in (8, 16, 32, 64):
                return self.number(i, j, "length", f"{first[0]} in", first[0], 0.6)
            return None
        unit, end = unit
        if len(self.low(end - 1)) == 1 and self.low(end - 1) != "%" and self.tokens[end - 1].start != self.tokens[end - 2].end:
            return None  # a lone letter is a unit only where it hangs on the number
        if "times" in unit:
            value = _inches(first[0] * Fraction("0.001"))
            if self.low(end) == "of" and self.low(end + 1) in ("an", "a") and self.low(end + 2) == "inch":
                end += 3
        else:
            keeps = unit.get("fraction", False) and (first[2] or unit["symbol"] == "in")
            value = written(first[0], fraction=keeps)
        symbol = unit["symbol"]
        if symbol in ("turn", "drop", "year") and first[0] > 1:
            symbol += "s"
        return self.number(i, end, unit["kind"], value + ("" if symbol in ("%", "°") else " ") + symbol, first[0])

    def single(self, i: int) -> tuple[Number, int] | None:
        """A unit without its number: "an inch and a half", "a thou", "a couple of pounds"."""
        few = 1
        if self.low(i) == "a" and self.low(i + 1) == "couple":
            few, j = 2, i + 2 + (self.low(i + 2) == "of")
        elif self.low(i) in ("a", "an"):
            j = i + 1
        else:
            return None
        unit = self.unit(j)
        if not unit or unit[0]["kind"] not in ("length", "weight") or len(self.low(j)) < 3 or (self.low(j).endswith("s") and few == 1):
            return None
        row, end = unit
        amount = Fraction(few)
        if self.low(end) == "and" and (rest := self.fraction(end + 1)):
            amount, end = amount + rest[0], rest[1]
        value = _inches(amount / 1000) if "times" in row else written(amount, fraction=row["symbol"] == "in")
        return self.number(i, end, row["kind"], f"{value} {row['symbol']}", amount, 0.8 if amount > 1 or "times" in row else 0.55)

    def lost_eighths(self, i: int) -> tuple[Number, int] | None:
        """A screw's length whose "eighths" lost its ending: "the long ones are five, eight" is 5/8 in."""
        top = self.whole(i)
        if not top or top[0] not in (1, 3, 5, 7) or not _LENGTH_SAID.search(self.text[:self.tokens[i].start]):
            return None
        j = top[1] + (self.low(top[1]) == ",")
        bottom = self.whole(j)
        if bottom and bottom[0] in (8, 16) and top[0] < bottom[0] and not self.unit(bottom[1]):
            return self.number(i, bottom[1], "length", f"{top[0]}/{bottom[0]} in", Fraction(top[0], bottom[0]), 0.6)
        return None

    def run_together(self, i: int) -> tuple[Number, int] | None:
        """Parts of an inch as speech models write them: "330 seconds of an inch" is 3/32 in, "180,000s" 0.180 in."""
        word = self.low(i)
        whole = re.match(r"(\d{1,3}) ?,000 ?(?:ths|s)\b", self.text[self.tokens[i].start:])
        if whole:
            end = self.tokens[i].start + whole.end()
            after = next((k for k in range(i, len(self.tokens)) if self.tokens[k].start >= end), len(self.tokens))
            return self.number(i, after, "length", thousandths(Fraction(whole[1])), Fraction(whole[1]), 0.7)
        split = re.fullmatch(r"(\d{1,2})(30|60)", word)
        whole = {("30", "second"): 32, ("60", "fourth"): 64}.get((split[2], self.low(i + 1).removesuffix("s"))) if split else None
        if whole and [self.low(i + k) for k in (2, 3, 4)] == ["of", "an", "inch"]:
            amount = Fraction(int(split[1]), whole)
            return self.number(i, i + 5, "length", f"{written(amount, fraction=True)} in", amount, 0.8) if amount < 1 else None
        return None

    def year(self, i: int) -> tuple[Number, int] | None:
        """ "2012", "twenty twelve", "two thousand nine", "nineteen sixty nine", "in sixty nine"."""
        whole = self.whole(i)
        if not whole:
            return None
        value, j, digits = whole
        if digits and len(self.low(i)) == 4 and "," not in self.low(i) and 1900 <= value <= 2035:
            since = self.low(i - 1) in ("in", "before", "after", "since", "about", "around", "from", "late", "early", "until", "till", "to", "circa")
            return self.number(i, j, "year", str(value), Fraction(value), 0.9 if since else 0.6)
        if not digits and 2000 <= value <= 2035:
            return self.number(i, j, "year", str(value), Fraction(value), 0.7)
        if not digits and value in (19, 20) and (rest := self.whole(j)) and not rest[2] and 10 <= rest[0] <= (99 if value == 19 else 35):
            return self.number(i, rest[1], "year", f"{value}{rest[0]}", None, 0.7)
        if 50 <= value <= 99 and self.text[max(0, self.tokens[i].start - 1):self.tokens[i].start] in ("'", "’"):
            return self.number(i, j, "year", f"19{value}", None, 0.8)
        return None

    def plain(self, i: int) -> tuple[Number, int] | None:
        if not (amount := self.amount(i)):
            return None
        kind = "fraction" if amount[0].denominator > 1 else "count"
        return self.number(i, amount[1], kind, written(amount[0], fraction=amount[2]), amount[0])


def _run_together(groups: list[str]) -> list[str]:
    """Three single digits or more in a row were one group, spelled: "62-1-1-8" is "62-118"."""
    out: list[str] = []
    for size, run in groupby(groups, key=len):
        run = list(run)
        if size == 1 and out and out[-1].startswith("0"):
            out[-1] += "".join(run)  # "30-04-2" is "30-042"
        else:
            out += ["".join(run)] if size == 1 and len(run) > 2 else run
    return out


def _inches(amount: Fraction) -> str:
    """Thousandths as a machinist writes them: three places at least."""
    text = f"{Decimal(amount.numerator) / Decimal(amount.denominator):.5f}".rstrip("0")
    return text.ljust(len(text.split(".")[0]) + 4, "0")


@cache
def _bearings() -> frozenset[tuple[Fraction, ...]]:
    return frozenset(tuple(map(Fraction, size.split("x"))) for size in data("sizes")["bearings"]["sizes"])


def _mend_bearing(amounts: Sequence[Fraction]) -> list[Fraction]:
    """Three sizes that no bearing has become those of one where only a "-teen" was misheard ("seven by forty by five", "7x4x5")."""
    if len(amounts) == 3 and tuple(amounts) not in _bearings():
        bore, outside, width = amounts
        for meant in (outside / 10 + 10, outside + 10):
            if meant.denominator == 1 and 13 <= meant <= 19 and (outside > 19 or outside <= bore) and (bore, meant, width) in _bearings():
                return [bore, meant, width]
    return list(amounts)


def thousandths(amount: Fraction) -> str:
    """So many thousandths of an inch, as written: "0.060 in"."""
    return f"{_inches(amount / 1000)} in"


def find_bearings(text: str, numbers: list[Number]) -> list[Number]:
    """Bearings named by their three sides alone, "seven, nineteen, six" or "ten bore, nineteen outside, five wide": those that are made."""
    out, k = [], 0
    while k + 2 < len(numbers):
        row = numbers[k:k + 3]
        between = [text[a.end:b.start] for a, b in zip(row, row[1:])]
        if all(n.kind in BARE and n.amount for n in row) and all(len(g) < 16 and not re.search(r"[.;?!]", g) for g in between) and tuple(n.amount for n in row) in _bearings():
            out.append(Number(row[0].start, row[2].end, "length", " x ".join(written(n.amount) for n in row) + " mm", confidence=0.7))
            k += 3
        else:
            k += 1
    return out


def same_unit(number: Number, amount: Number) -> Number:
    """`amount`, a bare count, read in the unit of `number`: after "forty four thou", "new was sixty" is 0.060 in."""
    unit = number.value.rsplit(" ", 1)[-1]
    thou = unit == "in" and number.value.startswith("0.")
    return replace(amount, kind=number.kind, value=thousandths(amount.amount) if thou else f"{written(amount.amount)} {unit}", confidence=0.6)
