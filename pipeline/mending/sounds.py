"""How words sound, and how far apart two sounds are.

Pronunciations come from a lexicon of 128,000 English words (gruut-lang-en); words outside it, makers' names and
slips of spelling among them, are sounded out by letter rules. Distance is an edit distance over phonemes in which
a substitution costs by how differently the two are made: place, manner and voice for consonants, height and
backness for vowels (articulatory features as any phonetics handbook gives them; the weights are our own).
"""

import re
import sqlite3
from contextlib import closing
from functools import cache, lru_cache
from pathlib import Path

# vowel: (height 0 low .. 1 high, backness 0 front .. 1 back); a diphthong by its middle
_VOWELS = {
    "i": (1.0, 0.0), "ɪ": (0.85, 0.15), "ɛ": (0.5, 0.1), "æ": (0.25, 0.1), "ə": (0.5, 0.5), "ɚ": (0.5, 0.55),
    "ʌ": (0.35, 0.6), "ɑ": (0.0, 0.8), "ɔ": (0.35, 0.95), "ʊ": (0.85, 0.85), "u": (1.0, 1.0), "oʊ": (0.6, 0.95),
    "eɪ": (0.7, 0.05), "aɪ": (0.4, 0.3), "aʊ": (0.4, 0.7), "ɔɪ": (0.55, 0.75), "ɝ": (0.5, 0.55),
}
# consonant: (place 0 lips .. 1 throat, manner, voiced)
_CONSONANTS = {
    "p": (0.0, "stop", 0), "b": (0.0, "stop", 1), "t": (0.4, "stop", 0), "d": (0.4, "stop", 1), "k": (0.8, "stop", 0),
    "ɡ": (0.8, "stop", 1), "f": (0.1, "fricative", 0), "v": (0.1, "fricative", 1), "θ": (0.3, "fricative", 0),
    "ð": (0.3, "fricative", 1), "s": (0.4, "fricative", 0), "z": (0.4, "fricative", 1), "ʃ": (0.55, "fricative", 0),
    "ʒ": (0.55, "fricative", 1), "h": (1.0, "fricative", 0), "t͡ʃ": (0.5, "affricate", 0), "d͡ʒ": (0.5, "affricate", 1),
    "m": (0.0, "nasal", 1), "n": (0.4, "nasal", 1), "ŋ": (0.8, "nasal", 1), "l": (0.4, "glide", 1), "ɹ": (0.5, "glide", 1),
    "w": (0.1, "glide", 1), "j": (0.6, "glide", 1),
}
_NEAR_MANNERS = {frozenset(p) for p in (("stop", "affricate"), ("fricative", "affricate"), ("stop", "fricative"), ("nasal", "stop"), ("nasal", "glide"))}
_PHONEMES = [*_VOWELS, *_CONSONANTS]
_LETTER = {p: chr(0x61 + i) for i, p in enumerate(_PHONEMES)}  # one character a phoneme, for quick string comparison
_SOUND = {c: p for p, c in _LETTER.items()}

# Letters to sounds for words outside the lexicon, longest first: rough, for comparing, not for speaking.
_SPELLING = [
    ("tion", "ʃ ə n"), ("sion", "ʒ ə n"), ("ough", "ɔ"), ("augh", "ɔ"), ("eigh", "eɪ"), ("ture", "t͡ʃ ɚ"), ("igh", "aɪ"), ("ion", "j ə n"),
    ("tch", "t͡ʃ"), ("dge", "d͡ʒ"), ("sch", "ʃ"), ("eer", "ɪ ɹ"), ("ear", "ɪ ɹ"), ("air", "ɛ ɹ"), ("oar", "ɔ ɹ"), ("oor", "ɔ ɹ"), ("our", "ɔ ɹ"), ("all", "ɔ l"), ("qu", "k w"),
    ("ch", "t͡ʃ"), ("sh", "ʃ"), ("th", "θ"), ("ph", "f"), ("gh", "ɡ"), ("wh", "w"), ("kn", "n"), ("wr", "ɹ"), ("ck", "k"), ("ng", "ŋ"),
    ("ee", "i"), ("ea", "i"), ("ie", "i"), ("ei", "eɪ"), ("ey", "i"), ("ai", "eɪ"), ("ay", "eɪ"), ("oa", "oʊ"), ("oe", "oʊ"), ("ow", "oʊ"), ("ou", "aʊ"), ("oo", "u"),
    ("oi", "ɔɪ"), ("oy", "ɔɪ"), ("au", "ɔ"), ("aw", "ɔ"), ("ue", "u"), ("ew", "u"), ("ui", "u"), ("er", "ɚ"), ("ir", "ɚ"), ("ur", "ɚ"), ("ar", "ɑ ɹ"), ("or", "ɔ ɹ"),
    ("ce", "s"), ("ci", "s ɪ"), ("cy", "s i"), ("ge", "d͡ʒ"), ("x", "k s"), ("a", "æ"), ("b", "b"), ("c", "k"), ("d", "d"), ("e", "ɛ"), ("f", "f"), ("g", "ɡ"),
    ("h", "h"), ("i", "ɪ"), ("j", "d͡ʒ"), ("k", "k"), ("l", "l"), ("m", "m"), ("n", "n"), ("o", "ɑ"), ("p", "p"), ("r", "ɹ"), ("s", "s"), ("t", "t"), ("u", "ʌ"),
    ("v", "v"), ("w", "w"), ("y", "i"), ("z", "z"),
]
_DIGITS = dict(zip("0 1 2 3 4 5 6 7 8 9 10 11 12".split(), "zero one two three four five six seven eight nine ten eleven twelve".split()))


@cache
def _lexicon() -> dict[str, str]:
    """Each word's first pronunciation. Read whole, at once: the file has no index, so that asking for one word reads all of it."""
    import gruut_lang_en

    path = Path(gruut_lang_en.__file__).parent / "lexicon.db"
    with closing(sqlite3.connect(f"file:{path}?mode=ro&immutable=1", uri=True)) as file:
        return dict(file.execute("select word, phonemes from word_phonemes order by pron_order desc, id desc"))


def _encode(ipa: str) -> str:
    return "".join(_LETTER.get(p.strip("ˈˌː"), "") for p in ipa.replace("g", "ɡ").split())


@lru_cache(maxsize=50_000)
def word_sound(word: str) -> str:
    """The sound of one lower-case word, a character a phoneme; "" for what cannot be said."""
    word = _DIGITS.get(word, word).replace("’", "'")
    for stem, ending in ((word, ""), (word[:-2], "'s"), (word[:-2], "es"), (word[:-1], "s")):
        if ending and not word.endswith(ending):
            continue
        spoken = _lexicon().get(stem)
        if spoken is not None:
            sound = _encode(spoken)
            if not ending:
                return sound
            last = _SOUND[sound[-1]] if sound else "t"
            if last in ("s", "z", "ʃ", "ʒ", "t͡ʃ", "d͡ʒ"):
                return sound + _encode("ɪ z")
            return sound + _encode("s" if _CONSONANTS.get(last, (0, "", 1))[2] == 0 else "z")
    return _spell_out(re.sub(r"[^a-z]", "", word))


def _spell_out(word: str) -> str:
    out, i = [], 0
    if len(word) > 3 and word.endswith("e") and word[-2] not in "aeiou":  # a silent e lengthens the vowel before
        long = {"a": "eɪ", "i": "aɪ", "o": "oʊ", "u": "u"}.get(word[-3])
        if long and word[-2] not in "cg":
            return _spell_out(word[:-3]) + _encode(long) + _spell_out(word[-2])
        if word[-2] not in "cg":
            word = word[:-1]
    while i < len(word):
        if i and word[i] == word[i - 1] and word[i] not in "aeiou":
            i += 1
            continue
        letters, sound = next((row for row in _SPELLING if word.startswith(row[0], i)), (word[i], ""))
        out.append(sound)
        i += len(letters)
    return _encode(" ".join(out))


def phrase_sound(words: list[str]) -> str:
    return "".join(word_sound(w) for w in words)


@cache
def _cost(a: str, b: str) -> float:
    """What it costs to hear phoneme b for phoneme a: 0 the same, 1 nothing alike."""
    a, b = _SOUND[a], _SOUND[b]
    if a == b:
        return 0.0
    if a in _VOWELS and b in _VOWELS:
        (h, k), (h2, k2) = _VOWELS[a], _VOWELS[b]
        return min(0.7, 0.1 + 0.45 * (abs(h - h2) + abs(k - k2)))
    if a in _CONSONANTS and b in _CONSONANTS:
        (p, m, v), (p2, m2, v2) = _CONSONANTS[a], _CONSONANTS[b]
        manner = 0.0 if m == m2 else 0.3 if frozenset((m, m2)) in _NEAR_MANNERS else 0.55
        return min(1.0, 0.5 * abs(p - p2) + manner + 0.2 * (v != v2) + 0.05)
    return 1.0 if {a, b} & set("mnsʃtkpf") else 0.8


_WEAK = {_LETTER[p] for p in ("ə", "ɪ", "h", "t", "d", "ɹ", "ɚ")}  # what careless speech drops


def sound_distance(a: str, b: str) -> float:
    """Weighted edit distance between two sounds, in phonemes."""
    row = [0.0]
    for ch in b:
        row.append(row[-1] + (0.5 if ch in _WEAK else 0.8))
    for x in a:
        gone = 0.5 if x in _WEAK else 0.8
        new = [row[0] + gone]
        for j, y in enumerate(b):
            come = 0.5 if y in _WEAK else 0.8
            new.append(min(row[j] + _cost(x, y), row[j + 1] + gone, new[j] + come))
        row = new
    return row[-1]
