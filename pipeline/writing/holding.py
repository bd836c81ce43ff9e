"""What holds what: a piece announced before the nut that holds it ("handle first, so out comes the nut") comes off after it all the same."""

import re
from collections.abc import Callable

from ..record import Step
from ..trade import data

_NEAR = 60.0  # seconds within which one is told as part of taking off the other
_OFF, _ON = ("remove", "loosen"), ("install", "tighten")


def turned_round(steps: list[Step], plain: Callable[[str], str]) -> dict[str, Step]:
    """By its id, each step that is told before it can be done, or after: with the step behind which (coming off) or before which (going on) it belongs.

    `plain` gives a part's plain name for the host's word. Both are looked at: "the nut" is known as the handle nut.
    """
    def names(step: Step) -> set[str]:
        return {" ".join(name.lower().split()) for name in (step.part, plain(step.part))}

    found: dict[str, Step] = {}
    for step in steps:
        if step.do == "remove":
            holders = [s for s in steps if s.do in _OFF and 0.0 <= s.start - step.start <= _NEAR and s is not step and holds(names(s), names(step))]
            # one of these that came off before is another of its kind: the screws of the other side
            holders = [s for s in holders if not any(o.do in _OFF and o.start < step.start and names(o) & names(s) for o in steps)
                       and not any(o.do == "install" and step.start < o.start < s.start and names(o) & names(step) for o in steps)]
            if holders:
                found[step.id] = max(holders, key=lambda s: s.start)
        elif step.do == "install":
            holders = [s for s in steps if s.do in _ON and 0.0 <= step.start - s.start <= _NEAR and s is not step and holds(names(s), names(step))]
            holders = [s for s in holders if not any(o.do == "install" and o.start > step.start and names(o) & names(s) for o in steps)
                       and not any(o.do in ("remove", "install") and s.start <= o.start < step.start and names(o) & names(step) for o in steps)]
            if holders:
                found[step.id] = min(holders, key=lambda s: s.start)
    return found


def holds(holder: set[str], held: set[str]) -> bool:
    """By the names alone: a handle nut holds the handle; and by the trade's list: a handle sits on the star."""
    rules = data("service")
    ways, kinds = "|".join(map(re.escape, rules["fasteners"]["ways"])), "|".join(map(re.escape, rules["fasteners"]["endings"]))
    if any(re.fullmatch(rf"{re.escape(one)}(?: (?:{ways}))* (?:{kinds})", other) for one in held for other in holder):
        return True
    return any(holder & set(row["over"]) and held & set(row["under"]) for row in rules["sits"])
