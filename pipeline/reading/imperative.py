"""A step as the one plain sentence that a guide prints."""

from ..trade import data
from ..trade.names import by_the_piece
from .clauses import head


def imperative(do: str, part: str, qty: int | None = None, tool: str | None = None, supply: str | None = None, plural: bool = False) -> str:
    """The step as one plain sentence: "Back out the six side plate screws with the screwdriver.\""""
    words = "zero one two three four five six seven eight nine ten eleven twelve".split()
    many = plural or bool(qty and qty > 1)
    noun = (f"{words[qty] if qty < len(words) else qty} " if qty and qty > 1 else "") + (_plural(part) if many else part)
    lead = data("actions")["say"]
    if do == "lubricate" and supply:
        text = f"Put {supply} on the {noun}"
        return text + (f", with the {tool}" if tool else "") + "."
    verb = lead["remove fastener"] if do == "remove" and head(part) in {"screw", "bolt"} else lead[do]
    text = verb.replace("*", f"the {noun}")
    helps = [x for x in (f"the {tool}" if tool else "", by_the_piece(supply) if supply else "") if x]
    return text + (f" with {' and '.join(helps)}" if helps else "") + "."


def _plural(name: str) -> str:
    if name.endswith("s"):
        return name
    if name.endswith(("ch", "sh", "x")):
        return name + "es"
    if name.endswith("y") and name[-2:-1] not in "aeiou":
        return name[:-1] + "ies"
    return name + "s"
