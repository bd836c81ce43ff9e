"""Cautions: from the host's own words and from the trade's list, each signed by what it can do."""

import re
from functools import cache
from typing import Literal

from ..record import Fact, Step
from ..trade import data

Signal = Literal["DANGER", "WARNING", "CAUTION", "NOTICE"]
SIGNALS: tuple[Signal, ...] = ("DANGER", "WARNING", "CAUTION", "NOTICE")


@cache
def _whole(words: tuple[str, ...]) -> re.Pattern:
    return re.compile(r"(?<![\w-])(?:" + "|".join(re.escape(w) + "s?" for w in sorted(words, key=len, reverse=True)) + r")(?![\w-])", re.I)


def has_word(text: str | None, words: list[str]) -> bool:
    """Does one of the words, or its plural, stand in the text as a whole word?"""
    return bool(text and words and _whole(tuple(words)).search(text))


def signal_of(fact: Fact) -> Signal:
    """How a host's warning is signed: by whether it is about the person or about the reel."""
    for row in data("cautions")["host"]:
        if has_word(fact.text, row["words"]):
            return row["signal"]
    return "NOTICE"


def by_host(finding) -> bool:
    """Put down or put right by the host: nothing that is found by itself is as sure."""
    return finding.confidence == 1.0


def warns(fact: Fact) -> bool:
    """Is this sure enough, and said as a warning, to carry a signal word? What is misread must not shout; what the host put down himself is one."""
    if by_host(fact):
        return True
    said = data("cautions")["said"]
    return fact.confidence >= said["sure"] and not fact.text.rstrip().endswith("?") and len(fact.text.split()) > 2 and has_word(fact.text, said["words"])


def may_warn(fact: Fact) -> bool:
    """Is a warning that is not sure, or has no word of warning, still worth its place? A scrap or a question tells nobody anything."""
    words = len(fact.text.split())
    return by_host(fact) or not fact.text.rstrip().endswith("?") and (words >= 7 or words > 2 and has_word(fact.text, data("cautions")["said"]["words"]))


def worn_for(said: list[Fact]) -> list[str]:
    """What the host's own warnings tell to wear."""
    return [row["wear"] for row in data("cautions")["wear"] if any(has_word(f.text, row["words"]) for f in said)]


def hazards_of(step: Step) -> list[dict]:
    """The rows of the trade's list that this step calls for."""
    return [row for row in data("cautions")["hazard"] if _calls(row, step)]


def _calls(row: dict, step: Step) -> bool:
    if row.get("actions") and step.do not in row["actions"]:
        return False
    part, tool = has_word(step.part, row.get("parts", [])), has_word(step.tool, row.get("tools", []))
    if row.get("both"):
        return part and tool
    return part or tool or has_word(step.supply, row.get("supplies", [])) or has_word(step.text, row.get("words", []))
