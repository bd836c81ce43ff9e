"""Plain English: how common a word is, and how much two words belong together."""

import math
import re
from functools import cache, lru_cache
from importlib.resources import files

PAIRS_FROM = 1_024_908_267_229  # words of the web corpus that wordsegment's pairs were counted in


@lru_cache(maxsize=50_000)
def commonness(word: str) -> float:
    """Zipf frequency, 0 for a word that is none (wordfreq). "grindy" is as English as "grind", nearly."""
    from wordfreq import zipf_frequency

    stem = re.sub(r"(?:y|er|ers|ed|ing|ish|ly|ness)$", "", word)
    made = zipf_frequency(stem, "en") - 1.0 if stem != word and len(stem) > 3 else 0.0
    return max(zipf_frequency(word, "en"), made)


@lru_cache(maxsize=50_000)
def together(first: str, second: str) -> float:
    """How much oftener two words stand side by side than chance would have it, in powers of ten from 0 to 4; 0 for an unknown pair."""
    count = _pairs().get(f"{first} {second}")
    if not count:
        return 0.0
    alone = [max(commonness(w), 3.0) - 9.0 for w in (first, second)]
    return min(4.0, max(0.3, math.log10(count / PAIRS_FROM) - sum(alone)))


@cache
def _pairs() -> dict[str, float]:
    """The quarter million commonest pairs of words (P. Norvig's counts over a web corpus, as wordsegment carries them)."""
    with (files("wordsegment") / "bigrams.txt").open(encoding="utf-8") as file:
        return {pair: float(count) for pair, count in (line.rsplit("\t", 1) for line in file)}
