"""How names of things are bent: one for all of the program."""

import re


def plural(name: str) -> str:
    """The plural of a trade name by its last word: "side plate screw" → "side plate screws"; "tweezers" is one already."""
    if not name or re.search(r"[^s]s$", name):
        return name
    if re.search(r"(?:s|x|z|ch|sh)$", name):
        return name + "es"
    if re.search(r"[^aeiou]y$", name):
        return name[:-1] + "ies"
    return name + "s"
