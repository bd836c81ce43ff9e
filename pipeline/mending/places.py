"""Words that a speech model takes for plain ones, told by the words beside them: "drop a boil" is of oil, "left the plate off" is to lift it
(`[[place]]` in pipeline/trade/mending.toml).
"""

from collections import Counter
from collections.abc import Sequence

from ..hearing.words import Word
from ..trade import data
from .scene import STOPS, bare, closes, opens

WHY = "the words beside it tell it"
SURE = 0.8   # about as often right on heard talks beside their scripts: benchmarks/hearing.md
_LINKS = {"and", "then", "just", "only", "okay", "so", "now"}   # a clause may open with these before its verb


def heard_places(words: Sequence[Word], spans: Sequence[tuple[int, int]]) -> list[tuple[int, int, str, str, float]]:
    """Changes as (first word, one past the last, text, why, confidence)."""
    plain = [bare(w.text) for w in words]
    said, rules = Counter(plain), {}
    for rule in data("mending")["place"]:
        if not rule.get("said") or any(said[w] for w in rule["said"]):
            for heard in rule["heard"]:
                rules.setdefault(heard.split()[0], []).append((heard.split(), rule))
    out = []
    for first, last in spans:
        for at in range(first, last):
            for heard, rule in rules.get(plain[at], ()):
                end = at + len(heard)
                if end <= last and plain[at:end] == heard and _fits(words, plain, first, last, at, end, rule):
                    out.append((at, end, rule["meant"], WHY, SURE))
                    break
    return out


def _fits(words: Sequence[Word], plain: list[str], first: int, last: int, at: int, end: int, rule: dict) -> bool:
    begins = opens(words, first, at)
    over = rule.get("over_marks", False)
    before = "" if at == 0 or begins and not over else plain[at - 1]
    after = "" if end == len(plain) or not over and closes(words, last, end - 1) else plain[end]
    if any(w.text.endswith(STOPS) for w in words[at:end - 1]):
        return False
    if rule.get("opens") and not (begins or before in _LINKS):
        return False
    if "after" in rule and before not in rule["after"] or before in rule.get("not_after", ()):
        return False
    if "before" in rule and after not in rule["before"] or after in rule.get("not_before", ()):
        return False
    ahead = plain[end:min(last, end + 6)]
    return "ahead" not in rule or bool(set(ahead) & set(rule["ahead"]))
