"""Comments and sentences in the same words: spelling put right, numbers as digits, the trade's names as their plain one."""

import re
from collections.abc import Iterable
from functools import lru_cache

from ..reading.terms import LONGEST, key, lexicon
from ..trade import Trade, data
from ..trade.numbers import find_numbers

_WORD = re.compile(r"[a-z0-9]+(?:[-'/.][a-z0-9]+)*")


def plain(text: str) -> str:
    """Lower case, straight apostrophes, single spaces."""
    return " ".join(text.lower().replace("’", "'").replace("`", "'").split())


@lru_cache(maxsize=20_000)
def commonness(word: str) -> float:
    """How common a word is in English, on the Zipf scale: 7 "the", 3 one in a million, 0 unknown."""
    from wordfreq import zipf_frequency

    return zipf_frequency(word, "en")


@lru_cache(maxsize=20_000)
def stem(word: str) -> str:
    import snowballstemmer

    return _stemmer(snowballstemmer).stemWord(word.replace("'s", "").replace("'", ""))


@lru_cache(maxsize=1)
def _stemmer(library):
    return library.stemmer("english")


@lru_cache(maxsize=1)
def _families() -> dict[str, str]:
    return {stem(word): f"~{name}" for name, words in data("questions")["same"].items() for word in words}


class Wording:
    """Knows the words of one trade and one episode. Items of a text: "=drag washer" for a thing of the trade, "#40" for a
    number, "~buy" for a family of words, else the word's stem."""

    def __init__(self, trade: Trade, said: Iterable[str] = ()):
        self.terms = lexicon(trade.terms)
        own = {w for text in said for w in _WORD.findall(plain(text))} | set(self.terms.words)
        own |= {w for row in (*data("questions")["asking"],) for say in row["say"] for w in re.findall(r"[a-z]{4,}", say)}
        self.known = sorted(w for w in own if len(w) >= 4 and w.isalpha())
        self._known = frozenset(self.known)
        self._right: dict[str, str] = {}

    def right(self, text: str) -> str:
        """Plain text with its slips put right."""
        haste = data("questions")["spelling"]
        return _WORD.sub(lambda m: haste.get(m[0]) or self._mended(m[0]), plain(text))

    def _mended(self, word: str) -> str:
        if len(word) < 4 or len(word) > 24 or not word.isalpha() or word in self._known:
            return word
        if word not in self._right:
            self._right[word] = word if commonness(word) >= 3 else self._nearest(word)
        return self._right[word]

    def _nearest(self, word: str) -> str:
        from rapidfuzz import process
        from rapidfuzz.distance import OSA

        most = 1 if len(word) < 7 else 2
        near = process.extract(word, self.known, scorer=OSA.distance, score_cutoff=most, limit=5)
        near = [(distance, -commonness(w), w) for w, distance, _ in near if w[0] == word[0] or distance == 1]
        return min(near)[2] if near else word

    def items(self, text: str, fix: bool = True) -> dict[str, float]:
        """What a text speaks of, each item with how much it tells."""
        found: dict[str, float] = {}
        text = self.right(text) if fix else plain(text)
        for number in find_numbers(text) if any(c.isdigit() for c in text) or _NUMBER_WORD.search(text) else ():
            if number.value not in ("1", "2", "3"):
                found["#" + number.value.split(" ")[0]] = 1.5
        atoms = [p for w in _WORD.findall(text) for p in re.split(r"[-']", w) if p]
        for word in _WORD.findall(text):
            if re.fullmatch(r"\d+-\d+", word):
                found["#" + word] = 2.0
        at = 0
        while at < len(atoms):
            length = next((n for n in range(min(LONGEST, len(atoms) - at), 0, -1) if self._names(atoms[at:at + n])), 0)
            if length:
                term = self.terms.terms[key("".join(atoms[at:at + length]))]
                found["=" + term.name] = 1.6
            for word in atoms[at:at + max(length, 1)]:
                weight = self._weight(word) * (0.6 if length else 1.0)
                if weight > 0:
                    item = _families().get(stem(word), stem(word))
                    found[item] = max(found.get(item, 0.0), weight)
            at += max(length, 1)
        return found

    def _names(self, atoms: list[str]) -> bool:
        return key("".join(atoms)) in self.terms.terms and not all(a in _asking_words() for a in atoms)

    def telling(self, text: str) -> float:
        """How much a text says of what it is about."""
        return sum(self.items(text, fix=False).values())

    def _weight(self, word: str) -> float:
        if len(word) < 3 or word.isdigit() or word in _STOP or word in _asking_words():
            return 0.0
        return min(1.0, max(0.0, (6.3 - commonness(word)) / 2.0))

    def term(self, name: str) -> str | None:
        """The plain name of a thing of the trade that is named whole, or None."""
        term = self.terms.terms.get(key(name))
        return term.name if term else None

    def heads(self, items: Iterable[str]) -> frozenset[str]:
        """The heads of what is named: "screw" of "side plate screw", or of a screw without a name."""
        words = {i[1:].split()[-1] for i in items if i[0] == "="} | set(items)
        return frozenset(stem(h) for h in self.terms.heads if h in words or stem(h) in words)

    def parts(self, items: Iterable[str]) -> frozenset[str]:
        return frozenset(i[1:] for i in items if i[0] == "=")


@lru_cache(maxsize=1)
def _asking_words() -> frozenset[str]:
    return frozenset(data("questions")["asking_words"]["say"])


_NUMBER_WORD = re.compile(r"\b(?:oh|four|five|six|seven|eight|nine|ten|eleven|twelve|[a-z]+teen|twenty|thirty|fou?rty|fifty|sixty|seventy|eighty|ninety|hundred|thousand)\b")
_STOP = frozenset("""
the and for are was were but not you all any can had her him his how its may our out she who why what when where which with this that they them
then than there these those have has from into over some such only just very much many more most will would could should does did done doing been
being your mine yours their also about like know get got one ones thing things way back still ever never really please thanks thank hello anyone
need needs want wants going goes went use used using too off here it's i'm i've don't can't doesn't didn't that's isn't won't you're there's put
video episode film watch watched reel reels right okay well yeah make made let see saw look same good think say said tell come came take
""".split())
