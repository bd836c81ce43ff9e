"""Which piece that goes on is a new one, in the place of an old one that came off: from what the reader sees at both places and what the talk says of the piece between."""

from collections.abc import Sequence

from ..trade import data
from .clauses import head
from .evidence import logistic, odds
from .ruled import Draft
from .signs import folded
from .talk import Talk
from .terms import singular

_BEFORE_OFF, _AFTER_OFF, _BEFORE_ON, _AFTER_ON = 1, 4, 3, 1   # sentences around the two moments that may tell of the exchange
_NEAR = 3                                                     # words from "new" to the piece's name, at most
_FRESHENED = {"clean", "degrease", "dry"}


class Exchanges:
    """The exchanges of a talk."""

    def __init__(self, talk: Talk) -> None:
        self.words = [[singular(t.lower_) for t in doc if not t.is_punct] for doc in talk.docs]

    def mark(self, done: Sequence[Draft]) -> None:
        """Calls new what goes on and is likely a new piece."""
        for n, draft in enumerate(done):
            if draft.do == "install" and not draft.undone:
                signs = self.signs(done, n)
                called = signs["new named"] or signs["new one"]
                draft.new = logistic("exchange", signs) >= data("exchange")["least"] and bool(called or not self._only_like_new(done, n))

    def _only_like_new(self, done: Sequence[Draft], n: int) -> bool:
        """Is the piece called new between the two moments, or told to be, only to say that it is not: "like new", "no new pawl"?"""
        kind = folded(head(done[n].part))
        first = next((k for k in reversed(range(n)) if done[k].part == done[n].part), None)
        between = self.words[done[first].sentences[0] if first is not None else max(0, done[n].sentences[0] - _BEFORE_ON):done[n].sentences[-1] + 1]
        return any(kind in words and any(w in data("exchange")["new"] and _not_new(words, k) for k, w in enumerate(words)) for words in between)

    def signs(self, done: Sequence[Draft], n: int) -> dict[str, float]:
        """What speaks for and against the piece of the fitting done[n] being a new one."""
        on, rules = done[n], data("exchange")
        first = next((k for k in reversed(range(n)) if done[k].do in ("remove", "set aside") and done[k].part == on.part and not done[k].undone), None)
        off, between = (None, ()) if first is None else (done[first], done[first:n])
        kind = folded(head(on.part))
        came_off = self._around(off, _BEFORE_OFF, _AFTER_OFF)
        goes_on = self._around(on, _BEFORE_ON, _AFTER_ON)
        middle = [w for w in self.words[off.sentences[0] if off else 0:on.sentences[-1] + 1] if kind in w]
        every = [*came_off, *middle, *goes_on]
        row = {
            "fitted": odds(on.exchanged), "taken off": odds(off.exchanged) if off else 0.0, "not off": off is None, "said": on.new,
            "new named": any(_before(w, rules["new"], kind) for w in every), "new one": any(_before(w, rules["new"], "one") or _before(w, rules["new"], "set") for w in goes_on),
            "old named": any(_before(w, rules["old"], kind) for w in every), "old one": any(_before(w, rules["old"], "one") for w in (*came_off, *goes_on)),
            "thrown out": any(_says(w, rules["out"]) for w in came_off), "changed": any(_says(w, rules["change"]) for w in middle),
            "changed there": any(_says(w, rules["change"]) for w in (*came_off, *goes_on)),
            "spent": any(_says(w, rules["spent"]) for w in came_off), "good": any(_says(w, rules["good"]) for w in came_off),
            "freshened": any(d.do in _FRESHENED and d.part == on.part for d in between), "wears": kind in rules["wears"], "holds": kind in rules["holds"],
            "soon": off is not None and on.start - off.start < 60,
        }
        return {k: float(v) for k, v in row.items()}

    def _around(self, draft: Draft | None, before: int, after: int) -> list[list[str]]:
        return self.words[max(0, draft.sentences[0] - before):draft.sentences[0] + after + 1] if draft else []


def _before(words: list[str], some: list[str], kind: str) -> bool:
    """One of some words stands just before the name: "a fresh pair of bearings", never "like new"."""
    return any(w in some and kind in words[k + 1:k + 1 + _NEAR] and not _not_new(words, k) for k, w in enumerate(words))


def _not_new(words: list[str], k: int) -> bool:
    """Does the word before say that it is not so: "like new", "no new pawl"?"""
    return k > 0 and words[k - 1] in data("exchange")["not_new"]


def _says(words: list[str], phrases: list[str]) -> bool:
    text = f" {' '.join(words)} "
    return any(f" {p} " in text for p in phrases)
