"""What may have been said: the trade's terms, the channel's own words and the names in the title, with their sounds."""

import re
from dataclasses import dataclass
from functools import lru_cache

from ..trade import Term, Trade, data
from ..trade.names import plural
from .sounds import phrase_sound


@dataclass(frozen=True, slots=True)
class Said:
    """One way of saying one thing. `text` as it is written in a sentence, `words` in lower case for comparing."""

    text: str
    words: tuple[str, ...]
    sound: str
    key: str                  # the thing's plain name: mentions of all its names count together
    group: str | None         # part, tool or supply; None for a maker's or a model's name
    reels: tuple[str, ...] = ()

    @property
    def is_name(self) -> bool:
        return self.group is None


def split_words(text: str) -> tuple[str, ...]:
    return tuple(re.findall(r"[a-z0-9#/.']+", text.lower().replace("-", " ")))


def title_names(title: str) -> list[str]:
    """Capitalised words of the title that are not plain English: makers' and models' names."""
    from wordfreq import zipf_frequency

    names, run = [], []
    for word in [*re.findall(r"[A-Za-z](?:[\w-]|'(?!s\b))*|\d[\w/.-]*", title), ""]:  # whose it is ("Packie's") is no part of a name
        known = word.lower() in ("reel", "service", "servicing", "part", "episode", "the", "full", "rebuild")
        if word[:1].isupper() and not known and zipf_frequency(word.lower(), "en") < 3.9:
            run.append(word)
            continue
        names += run + ([" ".join(run)] if len(run) > 1 else [])
        run = []
    return names


def vocabulary(trade: Trade, title: str) -> tuple[Said, ...]:
    """Every way of saying every term and name, the plainest first."""
    glossary = trade.glossary
    names = (*glossary.makers, *(m for pair in glossary.models for m in pair), *title_names(title))
    return _sounded(trade.terms, names)


@lru_cache(maxsize=8)
def _sounded(terms: tuple[Term, ...], names: tuple[str, ...]) -> tuple[Said, ...]:
    found: dict[str, Said] = {}  # by letters alone: of "e-clip" and "eclip" the plainer name stands

    def put(text: str, key: str, term: Term | None) -> None:
        words = split_words(text)
        sound = phrase_sound(list(words))
        letters = "".join(words)
        if words and len(sound) >= 2 and letters not in found:
            found[letters] = Said(text, words, sound, key, term and term.group, term.reels if term else ())

    for term in terms:
        for name in term.names:
            put(name, term.name, term)
            if not name.endswith("s"):
                put(plural(name), term.name, term)
    for head in data("parts")["heads"]:  # "the cap": said alone of whichever is in hand
        for name in (head, plural(head)):
            put(name, head, Term(head, "part"))
    for name in names:
        bare = re.sub(r"\s*\d[\w/.-]*$", "", name)  # the number after a model's name is heard well enough
        put(bare, bare.lower(), None)
    return tuple(found.values())
