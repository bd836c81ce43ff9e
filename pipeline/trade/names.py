"""How names of things are bent: one for all of the program."""

import re

_PIECE = re.compile(r"\b(?:rag|cloth|swab|bud|pad|stick|brush|washer|kit|stone|bag|zip tie|pipe cleaner|sponge|o-ring|shim|sheet|wipe|tag|label|cotton ball|pencil)$")


def plural(name: str) -> str:
    """The plural of a trade name by its last word: "side plate screw" → "side plate screws"; "tweezers" is one already."""
    if not name or re.search(r"[^s]s$", name):
        return name
    if re.search(r"(?:s|x|z|ch|sh)$", name):
        return name + "es"
    if re.search(r"[^aeiou]y$", name):
        return name[:-1] + "ies"
    return name + "s"


def with_article(name: str) -> str:
    """A thing with its article; pairs (pliers, tweezers) and the hands have none."""
    name = name.strip()
    if re.search(r"(?:[^s]s|hands?|\bair|\bwater|\bpaper|glass|\btape)$", name.lower()):
        return name
    return f"{'an' if re.match(r'[aeiou]|8|11', name.lower()) and not name.lower().startswith(('u-', 'one')) else 'a'} {name}"


def by_the_piece(supply: str) -> str:
    """A supply as it is called for: they come by the drop and the dab ("with oil"), some by the piece ("with a rag")."""
    return with_article(supply) if _PIECE.search(supply.strip().lower()) else supply.strip()
