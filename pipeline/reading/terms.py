"""Parts, tools and supplies named in a sentence.

A name of the trade is found in any of its spellings ("anti reverse", "anti-reverse", "antireverse"), if the word is
meant as that thing here (pipeline/trade/senses.toml). A noun of the trade with words before it that stand in no list
("idler shaft nut") makes a name of its own. What a bare "the nut" means is for referents.py to say.
"""

import re
from dataclasses import dataclass
from functools import lru_cache

from spacy.tokens import Doc, Span, Token

from ..trade import Term, Trade, data
from .findings import Mention
from .sizes import grit_before, size_after, size_before

LONGEST = 6  # words in a name
_PARTICLES = {"off", "on", "out", "in", "back", "up", "down", "next", "first", "away", "home", "over"}
_STUFF = {"oil", "grease", "lube"}
_DETERMINERS = {"the", "a", "an", "this", "that", "these", "those", "my", "your", "his", "her", "its", "our", "their", "each", "both", "any", "every", "another", "no", "same"}

for _name, _default in (("names", ()), ("bare", False), ("mods", ()), ("qty", None), ("confidence", 0.8), ("sense", None), ("kinds", ()), ("kin", None), ("by_size", False)):
    if not Span.has_extension(_name):
        Span.set_extension(_name, default=_default)


def key(name: str) -> str:
    """A name without case, spaces, hyphens and apostrophes."""
    return re.sub(r"[^a-z0-9#/.]+", "", name.lower())


def plural(name: str) -> str:
    if re.search(r"(s|x|ch|sh)$", name):
        return name + "es"
    return name[:-1] + "ies" if re.search(r"[^aeiou]y$", name) else name + "s"


@lru_cache(1 << 14)
def singular(word: str) -> str:
    if word.endswith("ies") and len(word) > 4:
        return word[:-3] + "y"
    if re.search(r"(sh|ch|ss|x)es$", word):
        return word[:-2]
    return word[:-1] if word.endswith("s") and not word.endswith("ss") and len(word) > 3 else word


@dataclass(frozen=True)
class Lexicon:
    """The trade's words, ready for looking up."""

    terms: dict[str, Term]            # key of any name, singular or plural: its term
    namesakes: dict[str, tuple[Term, ...]]  # key of any name: every term that has it, on one kind of reel or another
    forms: frozenset[str]             # words that say how a piece looks, not which it is: "slotted"
    heads: frozenset[str]             # words that say little alone: "nut"
    telling: frozenset[str]           # words that tell one piece from its like: "upper", "brass"
    words: frozenset[str]             # every word of every part's names
    senses: dict[str, dict]
    verbs: frozenset[str]
    not_before: frozenset[str]

    def term(self, name: str) -> Term | None:
        return self.terms.get(key(name))


@lru_cache(maxsize=4)
def lexicon(terms: tuple[Term, ...]) -> Lexicon:
    parts, senses, found = data("parts"), data("senses"), {}
    namesakes: dict[str, list[Term]] = {}
    for spell in (str, plural):  # a plural that stands in the lists ("rollers") goes before one that is only made
        for term in terms:
            for name in term.names:
                found.setdefault(key(spell(name)), term)
                namesakes.setdefault(key(spell(name)), []).append(term)
    words = {w for t in terms if t.group == "part" for n in t.names for w in re.split(r"[\s-]+", n.lower()) if len(w) > 2}
    by_word: dict[str, dict] = {}
    for sense in senses["sense"]:
        seen = by_word.setdefault(key(sense["word"]), {"needs": None, "kinds": (), "not": []})
        seen["needs"], seen["kinds"] = sense.get("needs", seen["needs"]), tuple(sense.get("kinds", seen["kinds"]))
        seen["not"] = seen["not"] + [w for w in sense.get("not", ())]
    for sense in by_word.values():
        sense["not"] = re.compile(r"\b(?:" + "|".join(map(re.escape, sense["not"])) + r")\b") if sense["not"] else None
    return Lexicon(found, {k: tuple(t) for k, t in namesakes.items()}, frozenset(parts["forms"]), frozenset(parts["heads"]), frozenset(parts["telling"]), frozenset(words), by_word,
                   frozenset(senses["verbs"]), frozenset(senses["not_before"]))


@dataclass(frozen=True, slots=True)
class _Atom:
    text: str
    token: int
    after_break: bool  # a comma or stop stands before it
    clitic: bool       # the "'s" of "the kettle's on": within a name ("jeweller's loupe"), never an end of one ("it's older" is no solder)


def _atoms(doc: Doc) -> list[_Atom]:
    atoms, broken = [], False
    for token in doc:
        pieces = [p for p in re.split(r"[^a-z0-9#/.]+", token.lower_) if p.strip(".")]
        if not pieces and token.text not in ("-", "–", "'", "’"):
            broken = True
        for piece in pieces:
            atoms.append(_Atom(piece, token.i, broken, token.text[0] in "'’"))
            broken = False
    return atoms


def mark_terms(doc: Doc, trade: Trade) -> None:
    """Leave what is named in doc.spans["terms"]: a span's label is its group, its kb_id the plain name.

    Extensions on each span: `names` (all its names), `bare` (a head such as "nut" alone, meaning still open), `mods` (the
    words before a bare head), `qty`, `confidence` and `sense` (what else the word needs to be meant so, or None).
    """
    lex, atoms, spans, at = lexicon(trade.terms), _atoms(doc), [], 0
    while at < len(atoms):
        length, span = _longest(doc, atoms, at, lex)
        if length == 1 and (tool := _taken_up(doc, atoms[at].token, lex)):
            span = tool
        if span is not None:
            spans = [s for s in spans if s.end <= span.start] + [span]
        at += max(length, 1)
    sizes = [s for s in _sizes_alone(doc, lex) if not any(o.start < s.end and s.start < o.end for o in spans)]
    doc.spans["terms"] = sorted([*spans, *sizes], key=lambda s: s.start)


def _longest(doc: Doc, atoms: list[_Atom], at: int, lex: Lexicon) -> tuple[int, Span | None]:
    limit = 1
    while limit < LONGEST and at + limit < len(atoms) and not atoms[at + limit].after_break:
        limit += 1
    for length in range(limit, 0, -1):
        if atoms[at].clitic or atoms[at + length - 1].clitic:
            continue
        joined = "".join(a.text for a in atoms[at:at + length])
        term = lex.terms.get(joined)
        first, last = atoms[at].token, atoms[at + length - 1].token
        if length == 1 and (joined in lex.heads or singular(joined) in lex.heads):
            return 1, _headed(doc, first, term, lex)
        if term is None:
            continue
        if _meant(doc, first, last, joined, term, lex):
            return length, _named(doc, first, last, term, lex)
    return 1, _paper(doc, atoms[at].token)


def _meant(doc: Doc, first: int, last: int, joined: str, term: Term, lex: Lexicon) -> bool:
    """Is the wording meant as that thing of the trade, as far as its own sentence tells?"""
    token = doc[last]
    sense = lex.senses.get(joined) or lex.senses.get(singular(joined)) or {}
    if sense.get("not") and _blocked(doc, first, last, sense["not"]) or _is_like(doc, first):
        return False
    if term.sized and term.group == "tool" and (size_before(doc, first)[0] or size_after(doc, last)[0]):
        return True
    if last + 1 < len(doc) and doc[last + 1].lower_ in lex.not_before and doc[last + 1].pos_ in ("NOUN", "PROPN") and term.group == "part" and first == last:
        return False
    if first != last:
        return True
    needs = sense.get("needs")
    if needs == "never":
        return False
    if singular(token.lower_) in lex.verbs and not _is_noun(token):
        return False
    if needs == "hand":
        return token.pos_ in ("NOUN", "PROPN") or _determined(token)
    if needs == "determiner":
        return _determined(token)
    if needs == "thing":
        return _determined(token) or _stands_alone(token)
    return True


def _blocked(doc: Doc, first: int, last: int, pattern: re.Pattern) -> bool:
    """Does the wording lie in one of the phrases in which the word is something else?"""
    start = doc[max(0, first - 4)].idx
    window = doc.text[start:doc[min(len(doc) - 1, last + 4)].idx + len(doc[min(len(doc) - 1, last + 4)])].lower().replace("-", " ").replace("’", "'")
    a, b = doc[first].idx - start, doc[last].idx + len(doc[last]) - start
    return any(m.start() < b and m.end() > a for m in pattern.finditer(window))


def _is_noun(token: Token) -> bool:
    """Used as a noun, also where the tagger took "Handle off" for an order."""
    doc, i = token.doc, token.i
    if _stands_alone(token):
        return True
    if token.lower_.endswith("s") and i > 0 and doc[i - 1].pos_ == "NOUN" and not doc[i - 1].lower_.endswith("s") and (i + 1 == len(doc) or doc[i + 1].is_punct or doc[i + 1].tag_ in ("DT", "RP", "IN", "RB")):
        return False
    after = doc[i + 1] if i + 1 < len(doc) else None
    if token.lower_ in _STUFF and after is not None and after.lower_ in ("on", "in", "down", "along", "into"):
        return True  # "oil on the worm": nobody oils on
    opens = i == 0 or doc[i - 1].is_punct or doc[i - 1].lower_ in ("and", "then", "just", "now", "please", "to", "you", "i", "we", "i'll", "'ll", "gonna", "can", "so", "n't", "never")
    if token.lower_ in ("handle", "spool") and after is not None and after.tag_ in ("RB", "RP", "IN", "VBZ", "VBP") and after.lower_ != "with":
        return True  # "handle just lifts off", "spool on the shaft"
    if opens and after is not None and (after.lower_ in _DETERMINERS or after.tag_ in ("PRP", "PRP$", "DT")) and after.lower_ != "no":
        return False
    if opens and after is not None and after.lower_ in _PARTICLES and i + 2 < len(doc) and not doc[i + 2].is_punct and doc[i + 2].tag_ in ("DT", "PRP", "PRP$", "NN", "NNS", "JJ", "CD"):
        return False
    return token.pos_ in ("NOUN", "PROPN") or _determined(token)


def _stands_alone(token: Token) -> bool:
    """"Star off", "cap on, finger tight": bench shorthand, the piece and where it goes."""
    doc, i = token.doc, token.i
    opens = i == 0 or doc[i - 1].is_punct or doc[i - 1].lower_ in ("and", "then", "okay", "so", "now", "right")
    if not opens:
        return False
    if i + 1 >= len(doc) or doc[i + 1].is_punct:
        return True
    closes = i + 2 >= len(doc) or doc[i + 2].is_punct or doc[i + 2].lower_ in ("and", "then", "with", "first", "again", "to")
    return doc[i + 1].lower_ in _PARTICLES and closes


def _is_like(doc: Doc, i: int) -> bool:
    """Only likened to: "facing each other like brackets"."""
    return any(t.lower_ == "like" and t.pos_ in ("ADP", "SCONJ") for t in doc[max(0, i - 3):i])


def _determined(token: Token) -> bool:
    doc, i = token.doc, token.i
    while i > 0:
        before = doc[i - 1]
        if before.lower_ in _DETERMINERS or before.tag_ in ("DT", "PRP$", "POS") or before.like_num:
            return True
        if before.pos_ in ("ADJ", "NOUN", "PROPN") and before.dep_ in ("amod", "compound", "nmod") and token.i - i < 3:
            i -= 1
            continue
        return False
    return False


def _in_hand(token: Token) -> bool:
    """Named as something taken in hand or put to use: "with a file", "grab the hose", "my apron on"."""
    doc, i = token.doc, token.i
    if token.pos_ not in ("NOUN", "PROPN") and not _determined(token):
        return False
    before = [t.lower_ for t in doc[max(0, i - 4):i]]
    if not before:
        return True
    hand = set(data("senses")["hand"])
    while before and before[-1] in hand | _DETERMINERS | {"of", "bit", "little", "old", "small", "wee", "clean", "damp", "dry", "soft", "some"}:
        word = before.pop()
        if word in hand or word in ("my", "your"):
            return True
    return bool(before) and before[-1] in (",",) and any(t in before for t in hand)


def _named(doc: Doc, first: int, last: int, term: Term, lex: Lexicon) -> Span:
    names, name, start, size = term.names, term.name, first, None
    if term.sized:
        if term.group == "tool":
            size, start = size_before(doc, first)
            if size is None:
                size, last = size_after(doc, last)
        else:
            size, start = grit_before(doc, first)
        if size is not None:
            name, names = sized_names(term, size)
        elif term.group == "tool" and first > 0 and doc[first - 1].lower_ in ("small", "wide", "big", "little", "large", "narrow", "wee") and "screwdriver" in name:
            how = {"little": "small", "wee": "small", "large": "big"}.get(doc[first - 1].lower_, doc[first - 1].lower_)
            name, names, start = f"{how} {term.name}", tuple(f"{how} {n}" for n in term.names) + term.names, first - 1
    name, names = _material(doc, start, name, names, term)
    single = first == last
    span = _span(doc, start, last, term.group, name, names, confidence=0.85 if single else 0.92)
    joined = key(doc[first:last + 1].text)
    sense = lex.senses.get(joined) or lex.senses.get(singular(joined)) or {}
    if single and size is None and sense.get("needs") in ("company", "reel"):
        span._.sense, span._.kinds = sense["needs"], sense["kinds"]
    elif single and size is None and sense.get("needs") == "hand" and not _in_hand(doc[last]):
        span._.sense = "tools"
    return span




def _material(doc: Doc, start: int, name: str, names: tuple[str, ...], term: Term) -> tuple[str, tuple[str, ...]]:
    """Small pieces are told apart by what they are made of: a brass shim is not any shim."""
    if term.group == "part" and term.name in data("parts")["by_material"] and start > 0 and doc[start - 1].lower_ in data("parts")["materials"]:
        stuff = doc[start - 1].lower_
        return f"{stuff} {name}", tuple(f"{stuff} {n}" for n in names)
    return name, names


def sized_names(term: Term, size: str) -> tuple[str, tuple[str, ...]]:
    """The plain name of a tool or paper of one size, and the names just as right. A driver told by a number is for cross recesses."""
    if size.startswith("#") and term.name in (numbered := data("tools")["numbered"]):
        name, names = numbered[term.name], tuple(n for n in term.names if n != "turnscrew")
        return f"{size} {name}", (f"{size} {name}", *(f"{size} {n}" for n in names), name, *names)
    bare = [n for n in term.names if n.lower() not in ("wet and dry", "wet or dry")]
    if term.group == "supply":
        return f"{size} grit {term.name}", (f"{size} grit {term.name}", f"{size} grit paper", f"{size} paper", f"{size} grit", f"{size} grit wet and dry", f"{size} {term.name}", *term.names)
    spaced = [f"{size} {n}" for n in bare]
    return f"{size} {term.name}", (*spaced, *term.names)


def _paper(doc: Doc, i: int) -> Span | None:
    """"Six hundred paper", "the two thousand grit": sandpaper that goes by its number alone."""
    if doc[i].lower_ not in ("paper", "grit"):
        return None
    size, start = grit_before(doc, i)
    if size is None:
        return None
    term = Term("sandpaper", "supply", ("wet and dry paper", "emery paper"), sized=True)
    name, names = sized_names(term, size)
    return _span(doc, start, i, "supply", name, names, confidence=0.85)


def _taken_up(doc: Doc, i: int, lex: Lexicon) -> Span | None:
    """A word for many things that is a tool by what stands before it: "with a magnet", "rolled on the glass"."""
    uses = [use for use in data("senses")["taken_up"] if use["word"] == singular(doc[i].lower_)]
    if not uses or i + 1 < len(doc) and doc[i + 1].pos_ in ("NOUN", "PROPN") and doc[i + 1].lower_ not in _PARTICLES:
        return None
    first = i - 1 if i and doc[i - 1].pos_ == "ADJ" else i
    before = " " + doc[max(0, first - 4):first].text.lower()
    for use in uses:
        if any(before.endswith(" " + words) for words in use["after"]):
            span = _named(doc, i, i, lex.term(use["tool"]), lex)
            span._.bare, span._.mods, span._.sense = False, (), None  # a span's marks are kept by its place: these may be of the part
            return span
    return None


def _sizes_alone(doc: Doc, lex: Lexicon) -> list[Span]:
    """Tools that go by their size alone beside the piece that they turn: "ten mil on the nut", "the nut's a half inch", "two screws, number one"."""
    rules, found = data("tools")["by_size"], []
    if not any(singular(t.lower_) in rules["turned"] for t in doc):
        return found
    for end in range(1, len(doc) + 1):
        if end < len(doc) and not (doc[end].is_punct or doc[end].lower_ in rules["after"]) or doc[end - 1].is_punct:
            continue
        size, start = size_before(doc, end)
        if size is None or start >= end:
            continue
        tool = _turning(doc, start, end, rules)
        if tool is None or size.startswith("#") != (tool in data("tools")["numbered"]):
            continue
        term = lex.term(tool)
        name, names = sized_names(term, size)
        others = [sized_names(lex.term(other), size)[1] for other in rules["also"].get(tool, ())]
        span = _span(doc, start, end - 1, "tool", name, tuple(dict.fromkeys((*names, *(n for row in others for n in row)))), confidence=0.75)
        span._.by_size, span._.bare, span._.mods, span._.sense = True, False, (), None
        found.append(span)
    return found


def _turning(doc: Doc, start: int, end: int, rules: dict) -> str | None:
    """The tool for what a size stands beside: the piece that it is "on", else the one just before it."""
    if end < len(doc) and doc[end].lower_ == "on":
        return next((rules["turned"][w] for t in doc[end + 1:end + 5] if (w := singular(t.lower_)) in rules["turned"]), None)
    at = start - 1
    while at >= 0 and start - at <= 8 and (doc[at].is_punct or doc[at].lower_ in rules["between"]):
        at -= 1
    return rules["turned"].get(singular(doc[at].lower_)) if at >= 0 else None


def _headed(doc: Doc, i: int, term: Term | None, lex: Lexicon) -> Span | None:
    """A head such as "nut" with no listed name around it: with telling words before it a name of its own, else bare."""
    token, head = doc[i], singular(doc[i].lower_) if doc[i].lower_ not in lex.heads else doc[i].lower_
    sense = lex.senses.get(key(head)) or {}
    if sense.get("not") and _blocked(doc, i, i, sense["not"]):
        return None
    if i + 1 < len(doc) and doc[i + 1].lower_ in lex.not_before and doc[i + 1].pos_ in ("NOUN", "PROPN"):
        return None
    if token.pos_ not in ("NOUN", "PROPN") and not _is_noun(token):
        return None
    if head in lex.verbs and not _is_noun(token):
        return None
    needs = sense.get("needs")
    if needs == "never" or needs == "hand" and not _in_hand(token) or needs == "determiner" and not _determined(token) or needs == "thing" and not (_determined(token) or _stands_alone(token)):
        return None
    if _is_like(doc, i):
        return None
    mods, start, known = [], i, True
    while start > 0 and len(mods) < 3:
        before = doc[start - 1]
        word = before.lower_
        if word == "-" and start > 1:
            start -= 1
            continue
        if singular(word) == head:  # a comma that was not heard: "the button in the cover, cover on"
            break
        if not before.is_alpha or before.like_num or before.tag_ in ("DT", "PRP$", "IN", "CC", "PRP", "MD", "VB", "VBZ", "VBD", "VBP", "TO", "RB", "RP", "WDT", "WP", "UH") and word not in lex.telling:
            break
        if word in lex.telling or word in lex.words and before.pos_ in ("NOUN", "PROPN", "ADJ"):
            mods.insert(0, word)
        elif before.pos_ in ("NOUN", "PROPN") and before.dep_ in ("compound", "nmod"):
            mods.insert(0, word)
            known = False
        else:
            break
        start -= 1
    while start < i and doc[start].text == "-":
        start += 1
    name = term.name if term else head
    span = _span(doc, start if mods else i, i, term.group if term else "part", name, term.names if term else (head,), confidence=0.5)
    span._.bare, span._.mods = True, tuple(mods) if known else ("?", *mods)
    if needs in ("company", "reel"):
        span._.sense, span._.kinds = needs, sense["kinds"]
    return span


def _span(doc: Doc, first: int, last: int, group: str, name: str, names: tuple[str, ...], confidence: float) -> Span:
    span = Span(doc, first, last + 1, label=group, kb_id=name)
    span._.names, span._.confidence, span._.qty = tuple(names), confidence, _count(doc, first)
    return span


_COUNTS = {w: n for n, w in enumerate("one two three four five six seven eight nine ten eleven twelve".split(), 1)} | {"both": 2, "pair": 2, "couple": 2}


def _count(doc: Doc, first: int) -> int | None:
    """How many, where the number stands before the name: "six side plate screws", "both bearings"."""
    for token in reversed(doc[max(0, first - 3):first]):
        if token.is_punct:
            return None
        if token.lower_ in _COUNTS:
            return _COUNTS[token.lower_]
        if token.text.isdigit() and 0 < int(token.text) < 30:
            return int(token.text)
        if token.pos_ not in ("ADJ", "NOUN", "ADV") and token.lower_ not in ("of", "the", "those", "these"):
            return None
    return None


def _called(span: Span) -> list[str]:
    """Every name as right for the thing, and what the host calls it here."""
    said = " ".join([*(t.lower_ for t in span[:-1]), singular(span[-1].lower_)]).replace(" - ", "-")
    return list(dict.fromkeys([*(span._.kin[1] if span._.kin else span._.names), said]))


def find_mentions(talk) -> list[Mention]:
    """Every part, tool and supply named, sentence by sentence."""
    return [
        Mention(group=span.label_, name=span._.kin[0] if span._.kin else span.kb_id_, names=_called(span), surface=span.text, sentence=s.id, start=s.start, end=s.end,
                qty=span._.qty, confidence=span._.confidence,
                context=[c for c in ("negated", "hypothetical", "past", "elsewhere") if c in doc._.context_at(span.end - 1)])
        for s, doc in zip(talk.sentences, talk.docs) for span in doc.spans["terms"]
    ]
