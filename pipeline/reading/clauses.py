"""A sentence cut into clauses of units: words, things of the trade with their count, and pronouns.

Captions punctuate badly and the parser stumbles over bench talk, so clauses are cut by commas, linking words and
verbs of the trade rather than by the parse alone.
"""

from dataclasses import dataclass, replace
from functools import cache, lru_cache

from spacy.tokens import Doc

from ..trade import data

NUMBERS = {w: i for i, w in enumerate("zero one two three four five six seven eight nine ten eleven twelve".split())} | {
    "both": 2, "pair": 2, "couple": 2, "dozen": 12}
PRONOUNS = {  # plural? None: could be either
    "it": False, "this": False, "him": False, "her": False, "she": False, "that": None, "them": True, "'em": True, "em": True, "these": True,
    "those": True, "they": True, "both": True, "'im": False, "each": True}
STANDINS = {"guy", "fella", "fellow", "thing", "bugger", "sucker", "boy", "lot", "lump", "pair", "devil", "beast", "bit", "chap", "dude", "piece", "set", "trio",
            "gentleman", "rascal", "unit", "one", "assembly", "bunch", "pieces"}
DETERMINERS = {"the", "a", "an", "your", "my", "our", "its", "their", "some", "this", "that", "these", "those", "any", "another", "every", "each", "all", "both", "his"}
PREPOSITIONS = {"of", "with", "from", "to", "for", "by", "at", "under", "underneath", "behind", "between", "against", "around", "round", "about", "inside", "beneath",
                "into", "onto", "in", "on", "over", "through", "off", "along", "across", "below", "above", "without", "toward", "towards", "near", "like", "past", "per", "than"}
_SUBORDINATE = {"if", "unless", "till", "until", "because", "'cause", "cause", "cos", "otherwise", "when", "whenever", "once", "before", "after", "or", "so", "but",
                "while", "which", "where", "who", "since", "although", "though", "except"}
_PLACES = {"inside", "outside", "top", "bottom", "end", "tip", "edge", "rim", "face", "faces", "back", "front", "teeth", "threads", "bore", "groove", "grooves", "middle",
           "underside", "base", "surface", "length", "hole", "lip", "sides", "side"}
_FRACTIONS = {"eighth", "eighths", "quarter", "quarters", "half", "halves", "sixteenth", "sixteenths", "third", "thirds", "point", "dash", "twenty", "thirty", "forty", "fifty",
              "sixty", "seventy", "eighty", "ninety", "hundred", "thousand", "oh", "mil", "mm", "thou", "inch", "pound", "pounds", "ounce", "ounces", "gram", "grams"}


@dataclass(frozen=True, slots=True)
class Unit:
    """One word, one thing with all that belongs to it ("all six of the plate screws"), one pronoun, or a stop."""

    kind: str                    # word | thing | pro | stop
    text: str                    # lower case; of a thing its name as said
    lemma: str
    at: int                      # token index of its first token
    tag: str = ""
    group: str = ""              # part | tool | supply, "noun" for a noun that the trade does not know
    name: str = ""               # plain trade name
    plural: bool | None = None
    qty: int | None = None
    said: tuple[str, ...] = ()   # words before the name: "the", "other", "new"

    @property
    def is_bare(self) -> bool:
        """Is only the sort of piece said: "screw", "little washer"."""
        if self.kind != "thing":
            return False
        *before, last = self.text.split()
        return singular(last) in _heads() and all(w in _plain() for w in before)


@dataclass(frozen=True, slots=True)
class Clause:
    units: tuple[Unit, ...]
    link: str                    # the word or mark that opens it: "", ",", "and", "then", "if", …
    at: int                      # token index


def head(name: str) -> str:
    """The last word of a name, singular: what kind of thing it is."""
    return singular(name.split()[-1]) if name else ""


@lru_cache(maxsize=4096)
def singular(word: str) -> str:
    if word.endswith(("ss", "us", "is")) or len(word) < 4:
        return word
    if word.endswith("ies"):
        return word[:-3] + "y"
    if word.endswith(("shes", "ches", "sses", "xes")):
        return word[:-2]
    return word[:-1] if word.endswith("s") else word


@cache
def verbs() -> frozenset[str]:
    actions = data("actions")
    known = set(actions["motion"]["verbs"]) | set(actions["spread"]["verbs"])
    for action in actions["action"]:
        known |= set(action.get("verbs", ())) | {p.split()[0] for p in action.get("phrases", ())}
    return frozenset(known - {"out", "off", "calipers", "caliper", "micrometer", "have", "do", "let", "see", "want", "like"} | {"let", "hold", "keep", "give"})


def is_verb_here(doc: Doc, i: int) -> bool:
    """Does a word that could be a thing ("crank", "grease", "spool") act as a verb at this place?"""
    word, lemma = doc[i].lower_, doc[i].lemma_.lower()
    before = doc[i - 1].lower_ if i else ","
    after = doc[i + 1].lower_ if i + 1 < len(doc) else "."
    if word.endswith("s"):  # "threads back on", "it clips in"
        return singular(word) in verbs() and after in {"back", "on", "off", "out", "in"} and before in {",", ".", "and", "then", "it", "she", "that", "this", "just", "which"}
    if lemma not in verbs() and word not in verbs():
        return False
    opens = before in {",", ".", "and", "then", "so", "you", "i", "we", "to", "just", "now", "okay", "ok", "gently", "go", "will", "'ll", "let", "gon", "na", "you'll"}
    takes = after in {"it", "them", "'em", "em", "that", "this", "these", "those", "the", "your", "my", "him", "her", "up", "back", "each", "every", "all", "both", "a", "down", "in", "out"}
    return opens and takes


def _number(token) -> int | None:
    word = token.lower_
    if word in NUMBERS:
        return NUMBERS[word]
    return int(word) if word.isdecimal() and 0 < int(word) < 40 else None


@cache
def _junk() -> frozenset[str]:
    return frozenset(data("actions")["parts"]["junk"])


@cache
def _plain() -> frozenset[str]:
    """Words that say how a piece looks, not which it is."""
    return frozenset(data("actions")["parts"]["plain"])


@cache
def _heads() -> frozenset[str]:
    """Last words of part names that stand for a part also where the trade's list has no such part."""
    return frozenset(data("actions")["parts"]["generic"])


@cache
def _single_names() -> dict[str, str]:
    """Part names of one word, to their plain names."""
    rows = data("parts")["part"]
    return {n: row["name"] for row in reversed(rows) for n in (row["name"], *row.get("also", ())) if " " not in n} | {h: h for h in _heads()}


def _fronted(doc: Doc, i: int) -> str | None:
    """The plain name of a part that opens a clause right before a particle ("Clutch over that", "so bearing back on"), whatever the tagger took it for."""
    names = _single_names()
    word = doc[i].lower_
    name = names.get(word) or names.get(singular(word))
    if name is None or i + 1 >= len(doc) or doc[i + 1].lower_ not in {"on", "in", "back", "over", "off", "out", "down", "into", "onto"}:
        return None
    if i and not (doc[i - 1].is_punct or doc[i - 1].lower_ in {"and", "then", "so", "now", "okay"}):
        return None
    lemma = singular(word) if word.endswith("s") else doc[i].lemma_.lower()
    return None if (lemma in verbs() or word in verbs() or word in {"back", "drag"}) and word not in {"handle", "spool"} else name


def units_of(doc: Doc) -> list[Unit]:
    """The sentence as units, determiners and fillers swallowed."""
    starts = {s.start: s for s in doc.spans.get("terms", ())
              if not (len(s) == 1 and (is_verb_here(doc, s.start) or s.text.lower() == "bit" and s.end < len(doc) and doc[s.end].lower_ == "of"))}
    units: list[Unit] = []
    i, before = 0, []
    while i < len(doc):
        token = doc[i]
        word, lemma = token.lower_, token.lemma_.lower()
        if i in starts:
            span = starts[i]
            said, qty = _modifiers(units, before)
            text = span.text.lower().removesuffix("'s").removesuffix("’s").strip(" '")
            last = text.split()[-1]
            plural = bool(qty and qty > 1) or (singular(last) != last and not span.kb_id_.endswith(last)) or bool({"these", "those", "all", "both"} & set(said))
            units.append(Unit("thing", text, text, i, token.tag_, span.label_, span.kb_id_, plural, qty, tuple(said)))
            before = []
            i = span.end
            continue
        if (name := _fronted(doc, i)) is not None:
            units += _loose(before)
            before = []
            units.append(Unit("thing", word, word, i, token.tag_, "part", name, singular(word) != word))
            i += 1
            continue
        i += 1
        if token.is_punct and word not in {"'em", "'im"} or token.is_space:
            if before:
                units += _loose(before)
                before = []
            if word not in {"'", '"', "-", "``", "''"}:
                units.append(Unit("stop", word, word, token.i))
            continue
        if word in {"uh", "um", "er", "hm", "well", "kinda", "sorta", "okay", "ok", "alright", "actually", "just", "really", "like", "basically", "literally", "gently",
                    "carefully", "please", "simply", "probably", "also", "right"} and not before:
            if word == "right" and doc[i].lower_ in {"side", "hand"} if i < len(doc) else False:
                before.append(token)
            continue
        modifies = (word in DETERMINERS or _number(token) is not None or token.tag_ in {"JJ", "JJR", "JJS", "NN", "NNP", "CD", "PRP$", "NNS", "POS", "PDT", "VBG", "VBN"}) \
            and not (lemma in verbs() and _starts_clause(units, before)) and word not in PREPOSITIONS and lemma not in {"be"} \
            and not (token.tag_ == "VBG" and not before and units and (units[-1].lemma == "be" or units[-1].text in {"'m", "'re", "'s", "am"}))
        if modifies and not _is_pronoun(doc, token, before):
            before.append(token)
            continue
        if word == "of" and before and (_number(before[-1]) is not None or before[-1].lower_ in {"all", "both", "pair", "couple", "each", "set", "rest"}):
            continue
        units += _loose(before)
        before = []
        if _is_pronoun(doc, token, before) or word in {"it", "they", "them", "'em", "em", "him", "her", "she", "'im"}:
            units.append(Unit("pro", word, word, token.i, token.tag_, plural=PRONOUNS.get(word)))
        else:
            units.append(Unit("word", word, lemma, token.i, token.tag_))
    return _without_places(units + _loose(before))


def _without_places(units: list[Unit]) -> list[Unit]:
    """"The teeth of the gear", "the tip of the pin": a place on a part stands for the part."""
    out: list[Unit] = []
    for k, unit in enumerate(units):
        of = k >= 3 and units[k - 3].text != "on" and unit.group == "part" and units[k - 1].text == "of" and len(out) >= 2 and out[-1].text == "of"
        if of and (out[-2].group == "noun" and head(out[-2].text) not in _heads() or out[-2].kind == "word" and out[-2].text in _PLACES):
            del out[-2:]
        out.append(unit)
    return out


def _starts_clause(units: list[Unit], before: list) -> bool:
    if before:
        return False
    return not units or units[-1].kind == "stop" or units[-1].text in {"and", "then", "you", "i", "we", "to", "'ll", "will", "so", "it", "na", "now", "they", "that"} or \
        units[-1].kind in {"thing", "pro"}


def _is_pronoun(doc: Doc, token, before: list) -> bool:
    """"this", "those", "both" standing alone, not before a noun."""
    if token.lower_ not in PRONOUNS or before and token.lower_ not in {"it", "them", "'em"}:
        return False
    if token.lower_ in {"it", "them", "'em", "em", "him", "she", "they", "'im"}:
        return True
    nxt = doc[token.i + 1] if token.i + 1 < len(doc) else None
    return nxt is None or nxt.is_punct or nxt.tag_.startswith(("V", "IN", "RP", "MD", "RB", "TO", "CC", "PRP", "DT", "EX", "WP")) and nxt.lower_ not in NUMBERS


def _modifiers(units: list[Unit], before: list) -> tuple[list[str], int | None]:
    """Words right before a name, with the count among them; words that are sentence verbs go back to the units."""
    said, qty = [], None
    for token in before:
        number = _number(token)
        if number is not None and not (token.i and token.nbor(-1).lower_ in {"number", "no.", "#"}):
            qty = number if number != 1 or token.lower_ in {"one", "1"} else qty
        said.append(token.lower_)
    return said, qty


def _loose(before: list) -> list[Unit]:
    """Words that led to no known thing: a bare count or a stand-in is a pronoun, a noun with its article an unknown noun."""
    if not before:
        return []
    words = [t.lower_ for t in before]
    last = before[-1]
    numbers = [n for t in reversed(before) if (n := _number(t)) is not None]
    number = numbers[0] if numbers else None
    if len(numbers) > 1 or any(w in _FRACTIONS for w in words):  # "three eighths twenty four" is a size, not a count
        return [Unit("word", t.lower_, t.lemma_.lower(), t.i, t.tag_) for t in before if t.lower_ not in {"the", "a", "an"}]
    at = before[0].i
    if last.lemma_.lower() in STANDINS and (len(before) > 1 or last.lower_ == "pair"):
        one = last.lower_ == "one" and words[0] not in {"every", "each", "this", "that"}
        plural = None if one else last.lower_ in {"lot", "pair", "pieces"} or last.lower_.endswith("s") or (number or 1) > 1 or words[0] in {"every", "each"}
        number = 2 if last.lower_ == "pair" else number
        return [Unit("pro", last.lower_, last.lower_, at, last.tag_, plural=plural, qty=number if number != 1 else None, said=tuple(words[:-1]))]
    if number is not None and (_number(last) is not None or words[-1] in {"all"}):
        return [Unit("pro", words[-1], words[-1], at, "CD", plural=number > 1, qty=number, said=tuple(words))]
    if words in (["all"], ["both"]) or words[0] in {"these", "those"} and len(words) == 1:
        return [Unit("pro", words[0], words[0], at, last.tag_, plural=True, qty=NUMBERS.get(words[0]))]
    if singular(last.lower_) in _heads() and last.tag_.startswith(("N", "V", "J")) and (not last.lower_.endswith("ing") or last.lower_ in _heads()) or \
            words[0] in {"the", "your", "that", "this", "these", "those"} and last.tag_.startswith("N"):
        if singular(last.lower_) in _junk():
            return [Unit("word", t.lower_, t.lemma_.lower(), t.i, t.tag_, said=("the",)) for t in before if t.lower_ not in DETERMINERS]
        noun = " ".join(w for w in words if w not in DETERMINERS and w not in NUMBERS and not w.isdigit())
        return [Unit("thing", noun, noun, at, last.tag_, "noun", singular_name(noun), singular(last.lower_) != last.lower_, number, tuple(words))] if noun else []
    return [Unit("word", t.lower_, t.lemma_.lower(), t.i, t.tag_, said=("the",) if k and before[k - 1].lower_ in DETERMINERS else ())
            for k, t in enumerate(before) if t.lower_ not in {"the", "a", "an", "my", "your", "our", "its"}]


def singular_name(name: str) -> str:
    words = name.split()
    return " ".join([*words[:-1], singular(words[-1])])


def clauses_of(doc: Doc) -> list[Clause]:
    """Clauses in order. A coordinated noun stays with its clause, a coordinated verb opens a new one."""
    units = units_of(doc)
    clauses: list[Clause] = []
    current: list[Unit] = []
    link = ""

    def close(new_link: str) -> None:
        nonlocal current, link
        if current:
            clauses.append(Clause(tuple(current), link, current[0].at))
            current, link = [], new_link
        elif new_link not in {",", "and"} or not link:
            link = new_link

    for k, unit in enumerate(units):
        if unit.kind == "stop":
            close(unit.text)
        elif unit.kind == "word" and unit.text in {"and", "then", "plus", "&", "now", "next"} | _SUBORDINATE:
            if unit.text in {"and", "&", "plus", "or"} and _joins_nouns(units, k, current):
                current.append(replace(unit, text="and", lemma="and"))
            elif unit.text == "so" and k + 1 < len(units) and units[k + 1].text == "that":
                close("until")
            else:
                close(unit.text)
        else:
            current.append(unit)
    close("")
    return clauses


def _joins_nouns(units: list[Unit], k: int, current: list[Unit]) -> bool:
    """Does this "and" join two things rather than two doings?"""
    if not current or current[-1].kind not in {"thing", "pro"}:
        return False
    after = []
    for unit in units[k + 1:]:
        if unit.kind == "stop" or unit.text in {"and", "then", "or"} or unit.text in _SUBORDINATE:
            break
        after.append(unit)
    if not after or after[0].kind not in {"thing", "pro"}:
        return False
    doing = any(u.kind == "word" and (u.lemma in verbs() or u.text in {"off", "out", "on", "in", "back", "down"} and u is after[-1]) for u in after[1:])
    return not doing or all(u.kind in {"thing", "pro"} or u.text in {"and", "there"} or u.tag.startswith("RB") for u in current)


def is_doing(unit: Unit) -> bool:
    return unit.kind == "word" and unit.lemma in verbs() and unit.text not in PREPOSITIONS or unit.kind == "word" and unit.lemma == "be"
