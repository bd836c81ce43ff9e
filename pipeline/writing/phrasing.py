"""A step's frame as one plain instruction."""

import re

from ..record import Step
from ..trade.names import by_the_piece, plural, with_article
from .plain import count_word

_VERBS = {
    "remove": "Remove", "install": "Fit", "loosen": "Loosen", "tighten": "Tighten", "clean": "Clean", "degrease": "Degrease",
    "dry": "Dry", "lubricate": "Lubricate", "inspect": "Inspect", "measure": "Measure", "adjust": "Adjust", "align": "Align",
    "test": "Test", "mark": "Mark", "repair": "Repair", "replace": "Replace", "set aside": "Set aside",
}
_THREADED = re.compile(r"\b(?:screw|bolt)s?$")


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
        tail += f" with {by_the_piece(step.supply)}"
    if step.tool:
        tail += f"{' and' if ' with ' in tail else ' with'} {with_article(step.tool)}"
    return f"{verb} {counted(part, step.qty)}{tail}."


def counted(part: str, qty: int | None) -> str:
    if qty is None:
        return f"the {part}"
    return f"the {part}" if qty == 1 else f"the {count_word(qty)} {plural(part)}"
