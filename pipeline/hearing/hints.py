"""What the host is likely to say, as hints for the speech model: the title, the channel's own words, and those of the trade that models hear wrong most.

The model writes on in the manner of its hint: after one long list of words it puts hardly a full stop, and the reader is lost. So hints are short sentences.
"""

from collections.abc import Iterable

from ..trade import Glossary, data, kinds_called

TITLE_LETTERS, OWN_LETTERS = 120, 160  # of the hint that the title and the channel's own words may take: the trade's are what is lost most
WORDS = 3  # in a sentence


def hints(title: str, glossary: Glossary) -> list[str]:
    """Sentences, the likeliest words first: the title, makers, models and terms of the glossary, what the kind of reel in the title has, then any reel's."""
    own = [*glossary.makers, *(model for _, model in glossary.models), *(term.name for term in glossary.terms)]
    trade, kinds = data("hearing"), kinds_called(title.lower().replace("-", " "))
    likely = [*(word for kind in kinds for word in trade["kind"].get(kind, ())), *trade["any"]]
    return [*_sentences([title] if len(title) <= TITLE_LETTERS else []), *_sentences(_short(own)), *_sentences(likely)]


def _sentences(words: Iterable[str]) -> list[str]:
    """The words, each once, three to a sentence."""
    kept = list(dict.fromkeys(plain for w in words if (plain := " ".join(w.split()).rstrip("."))))
    told = (", ".join(kept[at : at + WORDS]) for at in range(0, len(kept), WORDS))
    return [f"{text[0].upper()}{text[1:]}." for text in told]


def _short(words: list[str]) -> list[str]:
    """The first of them, no more than some letters in all."""
    kept, left = [], OWN_LETTERS
    for word in words:
        left -= len(word) + 2
        if left < 0:
            break
        kept.append(word)
    return kept
