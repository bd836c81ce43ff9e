"""Names that the shop's glossary knows, in plain English: "the drag's grabby" is no Garrowby because the shop has serviced one."""

from collections.abc import Sequence
from dataclasses import dataclass

from ..hearing.words import Word
from ..trade import Glossary
from .english import commonness
from .figures import GOES_ON
from .judge import Candidate
from .scene import bare
from .vocabulary import Said, title_names

ENGLISH = 2.0  # Zipf frequency from which a word is one that hosts use


@dataclass(frozen=True)
class Names:
    """Makers' and models' names of an episode: every word of them, those of its title, and the shop's own, all in lower case but the last."""

    words: frozenset[str]
    titled: frozenset[str]
    glossary: Glossary

    @classmethod
    def of(cls, vocabulary: Sequence[Said], title: str, glossary: Glossary) -> "Names":
        return cls(frozenset(word for v in vocabulary if v.is_name for word in v.words), frozenset(map(str.lower, title_names(title))), glossary)

    def in_passing(self, words: Sequence[Word], mend: Candidate) -> bool:
        """Would a name that is not the title's be put for plain words where nothing beside them tells of a reel: neither a number that its family may have nor another name?"""
        name = mend.said.text
        if not mend.said.is_name or name.lower() in self.titled or any(commonness(bare(w.text)) < ENGLISH for w in words[mend.first:mend.last]):
            return False
        before, after = ([bare(w.text) for w in some] for some in (words[max(0, mend.first - 1):mend.first], words[mend.last:mend.last + 2]))
        numbered = any(not self.glossary.lacks(name, w) if w.isdigit() else w[:1].isdigit() or GOES_ON.match(w) for w in after)
        return not numbered and self.words.isdisjoint(before + after)
