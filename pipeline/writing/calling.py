"""What the host calls each part: the word of his steps, which the lists and maps of the guide then use too."""

import re
from collections import Counter, defaultdict

from ..record import Episode, Part
from ..trade import data
from .cautions import by_host, has_word
from .plain import clean

_LOOSE = re.compile(r"\b(?:ones?|set|pair|kit|pack|\w*[^s]s)$", re.I)  # "the ceramic one", "carbons": said of it, no name for a list


class Calling:
    """The record lists a part under its plain name; the steps keep the host's own words for it."""

    def __init__(self, episode: Episode):
        self._owners: dict[str, list[Part]] = defaultdict(list)
        for part in episode.parts:
            for name in {part.name.lower(), *(n.lower() for n in part.names)}:
                self._owners[name].append(part)
        done: dict[str, Counter] = defaultdict(Counter)
        for step in episode.steps:
            if not step.undone and (owner := self._owner(step.part)):
                done[owner.name][clean(step.part)] += 1
        said = {s.id: s.text for s in episode.sentences}
        self._words = {part.name: self._chosen(part, done[part.name], [said[i] for i in part.sentences if i in said]) for part in episode.parts}

    def _owner(self, word: str) -> Part | None:
        """The one part that goes by this word; none where several do."""
        owners = self._owners.get(word.strip().lower(), [])
        named = [p for p in owners if p.name.lower() == word.strip().lower()]
        return (named or owners)[0] if len(named or owners) == 1 else None

    def _chosen(self, part: Part, done: Counter, said: list[str]) -> str:
        if done:  # the fullest of the words that the steps use, then the one used most
            word = max(done, key=lambda word: (len(word.split()), done[word]))
            return clean(part.name) if by_host(part) and _ends(part.name, word) else word
        if by_host(part):
            return clean(part.name)
        heard, trade = Counter(), {n.lower() for row in data("parts")["part"] if row["name"] == part.name for n in row.get("also", [])}
        for text in said:
            # "the plate" alone says less than the plain name does
            names = [n for n in part.names if n.lower() in trade and self._owner(n) is part and not _ends(part.name, n) and not _LOOSE.search(n) and has_word(text, [n])]
            if has_word(text, [part.name]):
                names.append(part.name)
            heard.update([max(names, key=len)] if names else [])
        return clean(heard.most_common(1)[0][0]) if heard else clean(part.name)

    def word(self, name: str) -> str:
        """A part's plain name as the host's word; any other name as it is."""
        return self._words.get(name, clean(name))

    def same(self, word: str) -> str:
        """One word of the host's for a part in place of another. "The gear" for the main gear is plain speech and stays."""
        owner = self._owner(word)
        chosen = self._words[owner.name] if owner else clean(word)
        return clean(word) if _ends(chosen, word) or _ends(word, chosen) else chosen

    def plain(self, word: str) -> str:
        """The plain name of the one part that goes by this word, else the word."""
        owner = self._owner(word)
        return owner.name if owner else clean(word)


def _ends(longer: str, word: str) -> bool:
    return f" {longer.lower()}".endswith(f" {word.strip().lower()}")
