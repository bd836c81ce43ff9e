"""A step's frame as the one plain sentence that a guide prints: written from the frame, not from the talk."""

import re

from ..record import Step
from . import data
from .names import by_the_piece, plural, with_article

_THREADED = re.compile(r"\b(?:screw|bolt)s?$")
_NUMBERS = "zero one two three four five six seven eight nine ten eleven twelve".split()


def imperative(do: str, part: str, qty: int | None = None, tool: str | None = None, supply: str | None = None, many: bool = False, new: bool = False) -> str:
    """What to do: action, count, part, then with what. `many`: more than one, of which nobody said how many. `new`: not the piece that came off."""
    say, part = data("actions")["say"], part.strip()
    thing = f"the {counted(f'new {part}' if new else part, qty, many)}" if part else "it"
    tail = ""
    if do == "lubricate" and supply in ("oil", "grease"):
        order = f"{supply.capitalize()} {thing}"  # the trade's own verbs
    elif do == "lubricate" and supply:
        order = f"Put {by_the_piece(supply)} on {thing}"
    else:
        order = say.get(f"{do} fastener" if _THREADED.search(part) else do, say[do]).replace("*", thing)
        tail = f" with {by_the_piece(supply)}" if supply else ""
    if tool:
        tail += f"{' and' if tail else ' with'} {with_article(tool)}"
    return f"{order}{tail}."


def worded(step: Step) -> str:
    return imperative(step.do, step.part, step.qty, step.tool, step.supply, new=step.new)


def counted(part: str, qty: int | None, many: bool = False) -> str:
    """"side plate", "six side plate screws"; a single one needs no number."""
    if qty is None or qty == 1:
        return plural(part) if many and qty is None else part
    return f"{_NUMBERS[qty] if 0 <= qty < len(_NUMBERS) else qty} {plural(part)}"
