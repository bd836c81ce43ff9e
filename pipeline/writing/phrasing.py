"""A step's frame as one plain instruction."""

import re

from ..record import Step
from .plain import count_word, plural

_VERBS = {
    "remove": "Remove", "install": "Fit", "loosen": "Loosen", "tighten": "Tighten", "clean": "Clean", "degrease": "Degrease",
    "dry": "Dry", "lubricate": "Lubricate", "inspect": "Inspect", "measure": "Measure", "adjust": "Adjust", "align": "Align",
    "test": "Test", "mark": "Mark", "repair": "Repair", "replace": "Replace", "set aside": "Set aside",
}
_THREADED = re.compile(r"\b(?:screw|bolt)s?$")
_NO_ARTICLE = re.compile(r"(?:s|hands?|oil|grease|water|air|threadlocker|thread locker|alcohol|cleaner|degreaser|tape|paper|soap|solvent|wax)$")


def imperative(step: Step) -> str:
    """One line that says what to do: action, count, part, then with what. Written from the frame, not from the talk."""
    part = step.part.strip() or "it"
    verb, tail = _VERBS[step.do], ""
    if _THREADED.search(part):
        verb = {"remove": "Back out", "install": "Run in"}.get(step.do, verb)
    if step.do == "lubricate" and step.supply:
        # "oil the bearing with reel oil", "grease the gear with blue grease": the trade's own verb where there is one
        verb = "Oil" if re.search(r"\boil$", step.supply) else "Grease" if re.search(r"\bgrease$", step.supply) else verb
    if step.supply and not (step.do == "lubricate" and step.supply.strip() in ("oil", "grease")):
        tail += f" with {with_article(step.supply)}"
    if step.tool:
        tail += f"{' and' if ' with ' in tail else ' with'} {with_article(step.tool)}"
    return f"{verb} {counted(part, step.qty)}{tail}."


def counted(part: str, qty: int | None) -> str:
    if qty is None:
        return f"the {part}"
    return f"the {part}" if qty == 1 else f"the {count_word(qty)} {plural(part)}"


def with_article(name: str) -> str:
    name = name.strip()
    if _NO_ARTICLE.search(name.lower()) and not name.lower().endswith("ss"):
        return name
    return f"{'an' if re.match(r'[aeiou]|8|11', name.lower()) and not name.lower().startswith(('u-', 'one')) else 'a'} {name}"
