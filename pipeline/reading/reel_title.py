"""The reel that an episode's title names: its maker, its family, its number."""

import re
from dataclasses import dataclass

from ..trade import data
from .model_numbers import UNITS


@dataclass(frozen=True, slots=True)
class Model:
    maker: str | None
    family: str       # "Gannet"; "" for a model that is a number alone
    number: str       # "30"; "" for a model that is a name alone

    @property
    def name(self) -> str:
        return f"{self.family} {self.number}".strip()


def model_of_title(title: str) -> Model | None:
    """The reel that a title names: "Servicing a Corvane Mistral 4/0" is maker Corvane, model Mistral 4/0. None where it names none."""
    best = max((r for r in map(_unowned, _runs(title)) if r), key=lambda r: (any(c.isdigit() for c in r[-1]) and len(r) > 1, any(c.isdigit() for w in r for c in w), len(r)), default=None)
    if not best or all(w.isdigit() for w in best):
        return None
    at = next((i for i, w in enumerate(best) if any(c.isdigit() for c in w) or i and w.lower() in UNITS), len(best))
    words, number = best[:at], best[at] if at < len(best) else ""
    varieties = set(data("reels")["varieties"])
    tail = [w for w in best[at + 1:] if w.isupper() and len(w) <= 4 or w.lower() in varieties or re.fullmatch(r"\d/\d", w)]
    number = " ".join([number, *tail]).strip()
    if len(words) >= 2 or words and number and any(c.isalpha() for c in number) and re.match(r"[A-Z]{2,}|[A-Z]+-", number):
        family = " ".join(words[1:])
        return Model(words[0], family, number)
    return Model(None, " ".join(words), number)


def _runs(title: str) -> list[list[str]]:
    """The stretches of a title that may name a reel: capitalised words, numbers and what belongs to a number, as they stand. An owner keeps its 's."""
    skip, widths, runs = set(data("reels")["title_words"]), set(data("reels")["widths"]), [[]]
    written = re.sub(r"\b([A-Z][\w'’]+ [A-Z]\w+ )([a-z]+)( and a half)?(?=[,:;]|$)", lambda m: f"{m[1]}{UNITS[m[2]]}{' 1/2' if m[3] else ''}" if m[2] in UNITS else m[0], title.strip())
    words = re.findall(r"[^\s,:;()!?|]+|[,:;()!?|]", written)
    for n, word in enumerate(words):
        plain = word.strip("'\"“”.") if word != "No." else word
        of_number = bool(runs[-1]) and runs[-1][-1][:1].isdigit() and plain in widths and not (n + 1 < len(words) and words[n + 1][0].isalnum())
        opens = n == 0 and re.search(r"(?:ed|ing)$", plain)  # "Drowned Corvane Mistral 40"
        if not of_number and (plain.lower() in skip or opens or not plain or not (plain[:1].isupper() or plain[:1].isdigit())):
            runs.append([])
        else:
            runs[-1].append(plain)
    return runs


def _unowned(run: list[str]) -> list[str]:
    """Without the owner that stands before a reel: "Uncle Lew's Corvane Mistral", "Grandfather's Corvane Mistral"."""
    owner = next((n for n, w in enumerate(run[:3]) if re.search(r"['’]s$", w)), None)
    if owner is not None and len(run) > owner + 2:
        run = run[owner + 1:]
    while len(run) > 1 and run[0].lower() in data("reels")["people"]:
        run = run[2 if len(run) > 3 else 1:]
    return [re.sub(r"['’]s$", "", w) for w in run]
