"""What one clause says is done: an action or a way (off, on), to which units, with what. No memory of the talk.

`Frame.way` is +1 for onto the reel, -1 for off it, 0 where the words leave it open. The trade's words for all
this are in trade/actions.toml.
"""

from dataclasses import dataclass, replace
from functools import cache

from ..trade import data
from .clauses import PREPOSITIONS, Clause, Unit, head, singular, verbs

_PARTICLES = {"off", "out", "away", "apart", "free", "loose", "clear", "on", "in", "back", "home", "into", "onto", "together", "inside", "through", "over", "down", "up",
              "forward", "forwards"}
_AGENTS = {"i", "we", "you", "ya", "let"}
_GROUND = PREPOSITIONS - {"of", "with", "by", "like", "than", "per", "without"}


@dataclass(frozen=True, slots=True)
class Frame:
    do: str | None                       # None: a motion, `way` says which
    way: int = 0
    to: tuple[Unit, ...] = ()            # the parts or pronouns it is done to; empty: left out
    ground: tuple[Unit, ...] = ()        # where from, where on: things after a preposition
    tool: Unit | None = None
    supply: Unit | None = None
    kind: str = "verb"                   # verb | phrase | inverted | bare | spread | tool | named: how it was told
    at: int = 0                          # token index
    verb: str = ""
    by: str = "it"                       # you (told or imperative) | i | it


@cache
def _rules() -> dict:
    actions = data("actions")
    named = {v: a["do"] for a in actions["action"] for v in a.get("verbs", ())}
    give = {n: a["do"] for a in actions["action"] for n in a.get("give", ())}
    drop = {"a", "an", "the", "my", "your"}
    phrases = sorted(((tuple(w for w in p.split() if w not in drop), a["do"]) for a in actions["action"] for p in a.get("phrases", ())),
                     key=lambda r: -sum(w != "*" for w in r[0]))
    idle = [tuple(p.split()) for p in actions["motion"]["idle"]]
    return {"verbs": named, "give": give, "phrases": phrases, "motion": set(actions["motion"]["verbs"]), "off": set(actions["motion"]["off"]),
            "on": set(actions["motion"]["on"]), "either": set(actions["motion"]["either"]), "operated": set(actions["parts"]["operated"]), "adjusted": set(actions["parts"]["adjusted"]), "alone_off": set(actions["motion"]["alone_off"]),
            "alone_on": set(actions["motion"]["alone_on"]), "idle": idle, "amounts": set(actions["spread"]["amounts"]), "spread": set(actions["spread"]["verbs"]),
            "supply": actions["supply"], "tools": actions["tool"], "trays": actions["trays"]["words"]}


def supply_kind(name: str) -> str:
    """lubricant | solvent | cleaner | wiper | "" for a supply's name."""
    words = set(name.lower().split())
    for kind, marks in _rules()["supply"].items():
        if any(m in words or " " in m and m in name.lower() or m + "s" in words for m in marks):
            if kind == "lubricant" and "penetrating" in words:
                continue
            return kind
    return ""


def is_tray(unit: Unit) -> bool:
    """A ring spanner is a "box wrench" and a matchstick no mat: the last word tells."""
    return any(name and singular(name.split()[-1]) in _rules()["trays"] for name in (unit.text, unit.name))


def tool_action(name: str) -> str | None:
    return next((row["do"] for row in _rules()["tools"] if any(w in name.lower() for w in row["words"])), None)


def is_part(unit: Unit) -> bool:
    return unit.kind == "pro" or unit.kind == "thing" and unit.group in {"part", "noun"}


def frames_of(clause: Clause) -> list[Frame]:
    """The frames of a clause in order. Reads only the words: whether it was meant is for others to say."""
    units = list(clause.units)
    idle = _idle(units)
    found: list[Frame] = []
    used: set[int] = set()
    said = {form for u in units for form in ((u.text, head(u.text)) if u.kind == "thing" else (u.text, u.lemma))}
    for words, do in _rules()["phrases"]:
        hit = _match(units, words, used) if said.issuperset(w for w in words if w != "*") else None
        if hit:
            first, last, inside = hit
            used |= {i for i in range(first, last + 1) if units[i].kind == "word"} or {first}
            found.append(_phrase_frame(units, words, do, first, last, inside))
    doing = [i for i in range(len(units)) if i not in used and _is_verb(units, i)]
    for n, i in enumerate(doing):
        end = min([j for j in doing[n + 1:]] + [j for j in used if j > i] + [len(units)])
        frame = _verb_frame(units, i, end, idle)
        if frame:
            found.append(frame)
    if not found:
        bare = _bare_frame(units, idle)
        if bare:
            found.append(bare)
    return sorted((_equipped(f, units) for f in found), key=lambda f: f.at)


def _idle(units: list[Unit]) -> set[int]:
    """Positions of particles inside phrases that say nothing of off or on ("in order", "in there")."""
    out = set()
    words = [u.text for u in units]
    for phrase in _rules()["idle"]:
        for i in range(len(words) - len(phrase) + 1):
            if tuple(words[i:i + len(phrase)]) == phrase:
                out |= set(range(i, i + len(phrase)))
    return out


def _match(units: list[Unit], words: tuple[str, ...], used: set[int]) -> tuple[int, int, list[int]] | None:
    """First place where the words of a phrase stand in this order, * for up to four units; with the units under the *s."""

    def fits(unit: Unit, word: str) -> bool:
        if unit.kind == "thing":
            return head(unit.text) == word or unit.text == word
        return unit.text == word or unit.lemma == word

    def rest(i: int, k: int) -> list[int] | None:
        if k == len(words):
            return []
        if words[k] == "*":
            if k + 1 == len(words):
                return list(range(i, min(i + 4, len(units))))
            for skip in range(5):
                tail = rest(i + skip, k + 1) if i + skip <= len(units) else None
                if tail is not None:
                    return list(range(i, i + skip)) + tail
            return None
        if i < len(units) and fits(units[i], words[k]):
            tail = rest(i + 1, k + 1)
            return None if tail is None else [-i - 1, *tail]
        return None

    for i in range(len(units)):
        if i in used or not fits(units[i], words[0]) or words[0] in _PARTICLES - {"back"} and i \
                or units[i].kind == "word" and units[i].said and words[0] in verbs():
            continue
        if units[i].kind == "thing" and len(words) > 1 and words[0] not in {units[i].text, head(units[i].text)}:
            continue
        hit = rest(i, 0)
        if hit is not None:
            fixed = [-h - 1 for h in hit if h < 0]
            if used & set(fixed):
                continue
            return i, max(fixed), [h for h in hit if h >= 0]
    return None


def _phrase_frame(units: list[Unit], words: tuple[str, ...], do: str, first: int, last: int, inside: list[int]) -> Frame:
    to = _parts(units, [i for i in inside if i <= last or words[-1] == "*"], stop_at_ground=True)
    if not to:  # "turn the handle": the part is in the phrase itself
        to = [units[i] for i in range(first, last + 1) if is_part(units[i])][:1]
    if not to:
        to = _parts(units, range(last + 1, len(units)), stop_at_ground=False)[:1]
    if not to:
        to = _subject(units, first)
    ground = tuple(u for u in units[last + 1:] if is_part(u) and u not in to)
    return Frame(do, to=tuple(to), ground=ground, kind="phrase", at=units[first].at, verb=words[0], by=_by(units, first))


def _is_verb(units: list[Unit], i: int) -> bool:
    unit = units[i]
    if unit.kind != "word":
        return False
    rules = _rules()
    lemma = unit.lemma
    if lemma not in rules["verbs"] and lemma not in rules["motion"] and lemma not in rules["spread"] and lemma not in {"give", "get"}:
        return False
    if unit.text in _PARTICLES and unit.text != "back":
        return False
    if unit.text == "back":
        opens = i == 0 or units[i - 1].text in {"you", "i", "we", "'ll", "to", "just", "will", "then", "can"}
        return opens and i + 1 < len(units) and (units[i + 1].kind in {"pro", "thing"} or units[i + 1].text in {"out", "off"})
    before = units[i - 1] if i else None
    if unit.said:
        return False
    opens = before is None or before.text in {"you", "i", "we", "to", "'ll", "then", "and", "just", "will", "can", "ya", "me"}
    if (unit.tag.startswith("J") or lemma in {"clean", "dry", "free", "loose", "fit", "seat", "set", "back", "oil"} and not unit.tag.startswith("VB")) and not opens:
        return False
    if unit.text.endswith("ed") and unit.tag in {"VBN", "JJ"} and not _passive(units, i):
        return False  # "it's greased", "comes oiled" say how it is
    if lemma in {"dry", "clean"} and i + 1 < len(units) and units[i + 1].group in {"supply", "tool"}:
        return False  # "dry cotton bud"
    if lemma == "turn" and before is not None and before.text in {"quarter", "half", "eighth", "full", "more", "turn"}:
        return False
    if before is not None and before.kind == "word" and (before.tag in {"JJ", "DT", "PRP$", "CD"} or before.text in {"of", "little", "quick", "good", "nice", "few", "thin", "light", "small"}):
        return unit.tag.startswith("V") and before.tag == "RB"
    if lemma in rules["amounts"] and i + 1 < len(units) and units[i + 1].text == "of":
        return False
    if before is not None and before.text in PREPOSITIONS and before.text != "to" and not unit.tag == "VBG" and not (i == 1 and lemma in {"go", "come"}):
        return False
    return True


def _passive(units: list[Unit], i: int) -> bool:
    """"gets wiped", "can be lifted", "wants pressing": done to the subject now. "It's greased" only says how it is, "it is lifted off" what is done."""
    before = units[max(0, i - 4):i]
    if units[i].tag == "VBG":
        return any(u.lemma in {"want", "need"} for u in before[-2:])
    if units[i].tag not in {"VBN", "VBD", "JJ"}:
        return False
    if any(u.lemma == "get" or u.text == "be" for u in before):
        return True
    after = units[i + 1:i + 3]
    return units[i].lemma in _rules()["motion"] | {"dress", "coat"} and any(u.lemma == "be" and u.text in {"is", "are", "'s", "'re"} for u in before) and any(
        u.text in _PARTICLES | {"with"} for u in after) and not any(u.text in {"already", "all"} for u in before)


def _by(units: list[Unit], i: int) -> str:
    """Who does it: the person told, the host, or the part itself."""
    if i and units[i - 1].kind == "word" and (units[i - 1].tag in {"NN", "NNS", "NNP", "NNPS", "EX"} or units[i - 1].text in {"ones", "stuff", "everything"}) and units[i].tag in {"VBZ", "VBP", "VBD"}:
        return "it"
    for unit in reversed(units[:i]):
        if unit.kind in {"thing", "pro"} and is_part(unit):
            return "it"
        if unit.text in {"i", "we"}:
            return "i"
        if unit.text in {"you", "ya"}:
            return "you"
    return "you"


def _subject(units: list[Unit], i: int) -> list[Unit]:
    """The parts that stand as subject before position i, without those behind a preposition."""
    found, behind = [], False
    for unit in units[:i]:
        if unit.kind == "word" and unit.text in PREPOSITIONS:
            behind = True
        elif unit.kind == "word" and unit.text == "and":
            behind = behind and not found
        elif is_part(unit) and not behind:
            found.append(unit)
    return _nouns_first(found)


def _nouns_first(found: list[Unit]) -> list[Unit]:
    """"the star, that" is one: a pronoun beside a noun points at it, unless joined."""
    things = [u for u in found if u.kind == "thing"]
    return things or found[:1]


def _parts(units: list[Unit], places, stop_at_ground: bool) -> list[Unit]:
    found, behind = [], False
    for i in places:
        if not 0 <= i < len(units):
            break
        unit = units[i]
        if unit.kind == "word" and unit.text in _GROUND | {"with", "of"}:
            behind = True
            if found or stop_at_ground:
                break
        elif is_part(unit):
            if found and found[-1].kind == "thing" and not (i and units[i - 1].text == "and") and unit.kind == "thing":
                break
            found.append(unit)
            if behind:
                break
    return _nouns_first(found) if found and found[0].kind == "pro" and any(u.kind == "thing" for u in found) and not _joined(units, found) else found


def _joined(units: list[Unit], found: list[Unit]) -> bool:
    return any(u.text == "and" for u in units)


def _object(units: list[Unit], i: int, end: int) -> list[Unit]:
    """Objects of the verb at i: what follows before a preposition; after a bare particle also what follows that."""
    found, blocked = [], False
    for j in range(i + 1, end):
        unit = units[j]
        if unit.kind == "word":
            if unit.text in {"of", "with", "for", "by", "from", "under", "underneath", "behind", "inside", "at", "to", "against", "around", "between", "beneath", "toward", "towards"} \
                    or unit.text in {"into", "onto", "through", "over", "along", "across", "in", "on"} and found:
                blocked = True
            elif unit.text == "and" and found:
                blocked = not (j + 1 < end and units[j + 1].kind in {"thing", "pro"} and not blocked)
            elif unit.text in {"into", "onto"}:
                blocked = True
            continue
        if blocked:
            if found:
                break
            continue
        if is_part(unit) or unit.group in {"supply", "tool"}:
            if found and not units[j - 1].text == "and":
                if found[-1].kind == "pro" and unit.kind == "pro":  # "'em all"
                    continue
                break
            found.append(unit)
    return found


def _ground(units: list[Unit], places, besides) -> list[Unit]:
    """Things behind a preposition of place."""
    found, behind = [], False
    for j in places:
        unit = units[j]
        if unit.kind == "word" and unit.text in _GROUND:
            behind = True
        elif unit.kind in {"thing", "pro"} and behind and unit not in besides:
            found.append(unit)
            behind = False
    return found


def _way(units: list[Unit], i: int, end: int, idle: set[int]) -> tuple[int, str, int]:
    """The way that the particles after the verb point, the particle, and its position (-1: none)."""
    rules = _rules()
    back, open_way = False, None
    for j in range(i + 1, end):
        word = units[j].text
        if units[j].kind != "word" or j in idle:
            continue
        if word == "back":
            back = True
            continue
        if word in rules["off"]:
            if word == "out" and j + 1 < len(units) and units[j + 1].text in {"there", "here"}:
                continue
            return -1, word, j
        if word in rules["either"] and word not in rules["on"]:
            open_way = open_way or ((1 if back else 0), word, j)
            continue
        if word in rules["on"] and not (open_way and units[j].text in {"in", "on"}):
            return open_way if open_way and open_way[0] == 0 and word in rules["either"] else (1, word, j)
        if word == "from":
            return -1, word, j
    return open_way or ((1, "back", i) if back else (0, "", -1))


def _verb_frame(units: list[Unit], i: int, end: int, idle: set[int]) -> Frame | None:
    rules = _rules()
    verb = units[i].lemma
    objects = _object(units, i, end)
    by = _by(units, i)
    passive = _passive(units, i)
    supplies = [u for u in objects if u.group == "supply"]
    parts = [u for u in objects if is_part(u)]
    lubricant = any(supply_kind(u.name) == "lubricant" for u in units if u.group == "supply")
    at = units[i].at

    if verb in {"get", "take", "want", "need"} and by == "it" and not parts and (subject := _subject(units, i)):
        for help in (u for u in units[i + 1:end] if u.group in {"supply", "tool"}):
            does = {"lubricant": "lubricate", "solvent": "clean", "cleaner": "clean", "wiper": "clean"}.get(supply_kind(help.name)) if help.group == "supply" else tool_action(help.name)
            if does:
                return Frame(does, to=tuple(subject), kind="spread", at=at, verb=verb, by=by)
    if verb in {"give", "get", "need", "want", "have"}:
        noun = next((u for u in units[i + 1:end] if u.kind == "word" and u.lemma in rules["give"]), None)
        if noun and (verb == "give" or by == "it"):
            to = parts if verb == "give" else _subject(units, i)
            to = to or _parts(units, range(i + 1, end), stop_at_ground=False)
            return Frame(rules["give"][noun.lemma], to=tuple(to), kind="phrase", at=at, verb=noun.lemma, by=by)
        if verb == "give":
            amount = lubricant and _parts(units, range(i + 1, end), stop_at_ground=False)
            return Frame("lubricate", to=tuple(amount), kind="spread", at=at, verb=verb, by=by) if amount else None

    spreads = verb in rules["spread"] and lubricant and (
        any(supply_kind(u.name) == "lubricant" for u in supplies) or any(u.lemma in rules["amounts"] for u in units[i + 1:end]))
    if spreads:
        to = [u for u in _ground_for(units[:end], i + 1) if is_part(u)]
        if not to:
            to = parts or _subject(units, i)
        return Frame("lubricate", to=tuple(to), kind="spread", at=at, verb=verb, by=by)
    if verb in rules["spread"] and any(supply_kind(u.name) in {"solvent", "cleaner"} for u in supplies):
        to = [u for u in _ground_for(units[:end], i + 1) if is_part(u)]
        return Frame("clean", to=tuple(to), kind="spread", at=at, verb=verb, by=by) if to else None

    way, particle, place = _way(units, i, end, idle)
    if verb in rules["verbs"] and not (verb in rules["motion"] and way and not (by == "you" and particle in {"down", "over", "through", "back"})):
        do = rules["verbs"][verb]
        if by == "it" and not passive and do not in {"remove", "install", "test"}:
            return None  # the part does it: "they rub on the ring"
        to = parts or ([] if objects and not passive else _subject(units, i) if passive or by == "it" and not parts else [])
        if not to and by in {"i", "you"}:  # "the sleeve I just wipe"
            agent = next((j for j, u in enumerate(units[:i]) if u.text in _AGENTS), 0)
            to = [u for u in units[:agent] if is_part(u)][:1]
        if not to:
            to = [u for u in _ground(units, range(i + 1, end), ()) if is_part(u)] or (_subject(units, i) if by == "it" else [])
        if do == "clean" and lubricant and not parts and supplies and way >= 0:
            do = "lubricate"
        return Frame(do, way=-1 if do == "remove" else 1 if do == "install" else 0, to=tuple(to),
                     ground=tuple(_ground(units, range(i + 1, end), to)), kind="verb", at=at, verb=verb, by=by)
    if verb not in rules["motion"]:
        return None

    inverted = _inverted(units, i)
    if inverted:
        way, to = inverted
        to = to or _parts(units, range(i + 1, end), stop_at_ground=True) or _subject(units, i)
        return Frame(None, way=way, to=tuple(to), ground=tuple(_ground(units, range(i + 1, end), to)), kind="inverted", at=units[0].at, verb=verb, by="it" if to else "you")
    if place < 0 and not (verb in rules["alone_off"] and parts or verb in rules["alone_on"] and (parts or by == "it")):
        # "slide the shaft", "set the spool": a motion without a way
        if not parts or verb in {"have", "let", "do", "leave", "run", "get", "go", "come", "take", "bring", "pick", "grab", "catch", "turn", "start", "crack", "break", "stick", "rotate", "flip", "stack",
                                 "roll", "feed", "work", "throw", "split", "fall", "tap", "twist", "press", "shake", "drive", "put", "spin", "push", "tip", "snap", "hook", "return", "land"}:
            return None
    if verb == "set" and parts and head(parts[0].text) in rules["adjusted"] and place < 0:
        return Frame("adjust", to=tuple(parts), kind="verb", at=at, verb=verb, by=by)
    if place < 0:
        way = -1 if verb in rules["alone_off"] else 1 if verb in rules["alone_on"] else 0
    if verb == "do" and any(u.group == "supply" for u in units[i + 1:]) and any(u.text == "with" for u in units[i + 1:]):
        to = parts or [u for u in units[:i] if is_part(u)][:1]  # "the tail plate I do with a damp rag"
        return Frame("clean", to=tuple(to), kind="verb", at=at, verb=verb, by=by) if to else None
    if verb in {"get", "take", "bring", "put", "set"} and by == "it" and not passive or verb == "run" and particle == "out" or verb == "pick" and particle == "up" \
            or verb in {"tip", "turn", "flip", "roll"} and particle in {"over", "through"}:
        return None
    if particle == "down" and verb in {"push", "press", "hold", "flip", "pull", "put"} and any(head(u.text) in rules["operated"] for u in parts):
        return Frame("test", to=tuple(parts), kind="verb", at=at, verb=verb, by=by) if verb == "flip" else None
    if verb in {"have", "leave", "do", "let"} and not (verb == "have" and particle in {"off", "out"} and parts):
        return None
    if way > 0 and by == "it" and not passive and verb in {"pull", "lift", "walk", "back", "draw", "poke", "hook", "fall", "split", "break", "peel", "separate"}:
        return None
    transitive = bool(parts) or bool(objects and by != "it")
    intransitive = verb in {"come", "go", "slide", "lift", "pull", "pop", "drop", "slip", "spin", "thread", "screw", "wind", "push", "work", "fall", "tip", "unwind", "split", "snap",
                            "clip", "press", "tap", "shake", "ease", "wiggle", "hop", "walk", "float", "settle", "twist", "roll", "separate", "start", "break", "fold", "peel", "unscrew",
                            "back", "plop", "land", "bolt", "stack", "run", "knock", "hook", "feed", "lower", "rotate", "return", "draw", "poke", "tuck", "drive"}
    subject = _subject(units, i) if by == "it" else []
    if by == "you" and parts and units[i].tag == "VBZ" and i and units[i - 1].kind == "word":
        return None  # "counterclockwise puts it on"
    if by == "it" and not passive and subject and parts and not _after_preposition(units, place if place >= 0 else i, parts[0]):
        return None  # "the pinion picks it up": the part does it
    if passive:
        to = subject
    elif parts and not (by == "it" and subject and place >= 0 and _after_preposition(units, place, parts[0])):
        to = parts
    elif intransitive and subject:
        to = subject
    elif objects and objects[0].group in {"supply", "tool"}:
        return _wiping(units, i, end, objects, way, at, by)
    else:
        to = parts if transitive else []
    if not to and not passive and (by == "it" or verb in {"get", "come", "go", "take", "run", "set", "have"} or any(
            u.group or u.tag.startswith("N") for u in units[i + 1:] if u.group != "tool") or place != i + 1):
        return None  # left out: "which we ease off"
    ground = _ground(units, range(i + 1, end), to)
    if way > 0 and any(u.group == "supply" and supply_kind(u.name) in {"solvent", "cleaner"} for u in units[i:]):
        return Frame("clean", to=tuple(to), ground=tuple(ground), kind="verb", at=at, verb=verb, by=by)
    if way > 0 and any(g.group == "tool" and not is_tray(g) for g in ground):
        return None  # "put it on the dowel" holds it
    if way > 0 and any(g.group == "tool" and is_tray(g) for g in ground) and particle in {"in", "into", "on", "onto"}:
        return Frame("set aside", to=tuple(to), ground=tuple(ground), kind="verb", at=at, verb=verb, by=by)
    return Frame(None, way=way, to=tuple(to), ground=tuple(ground), kind="verb", at=at, verb=verb, by=by)


def _after_preposition(units: list[Unit], place: int, unit: Unit) -> bool:
    """In "the gear goes down over the post" the post is the ground, not what goes."""
    return units.index(unit) > place


def _wiping(units, i, end, objects, way, at, by) -> Frame | None:
    """"get the old grease off the gear" cleans it, "put the oil on" oils it; with a tool as object nothing is sure."""
    thing = objects[0]
    if thing.group != "supply":
        tool_does = tool_action(thing.name)
        to = [u for u in _ground(units, range(i + 1, end), objects) if is_part(u)]
        return Frame(tool_does, to=tuple(to), kind="tool", at=at, verb=units[i].lemma, by=by) if tool_does and way > 0 and to else None
    to = [u for u in _ground(units, range(i + 1, end), objects) if is_part(u)]
    if way < 0 and supply_kind(thing.name) == "lubricant":
        return Frame("clean", to=tuple(to), kind="verb", at=at, verb=units[i].lemma, by=by)
    if way > 0 and supply_kind(thing.name) == "lubricant":
        return Frame("lubricate", to=tuple(to), kind="spread", at=at, verb=units[i].lemma, by=by)
    return None


def _inverted(units: list[Unit], i: int) -> tuple[int, list[Unit]] | None:
    """"out they come", "in goes the bridge", "off she comes", "on the post she goes": a particle before a verb of going."""
    if units[i].lemma not in {"come", "go", "pop", "slide", "drop", "lift", "spin", "slip"} or i == 0:
        return None
    lead = [u for u in units[:i] if not u.tag.startswith("RB") or u.text in _PARTICLES]
    lead = [u for u in lead if u.text not in {"there", "and", "so"}]
    if not lead or lead[0].kind != "word":
        return None
    rules = _rules()
    first = lead[0].text
    if first == "back" and len(lead) > 1 and lead[1].kind == "word":
        first = lead[1].text
    way = -1 if first in rules["off"] else 1 if first in rules["on"] else 0
    if not way:
        return None
    subject = [u for u in lead[1:] if is_part(u)]
    return way, subject[-1:] if subject else []


def _bare_frame(units: list[Unit], idle: set[int]) -> Frame | None:
    """Clauses without a verb of the trade: "nut off", "star on", "drop of oil on each", "toothbrush on the threads"."""
    rules = _rules()
    be = next((j for j, u in enumerate(units) if u.lemma in {"be", "hold", "stay", "keep", "weigh", "face", "sit", "rub", "do", "go"} or u.tag in {"VBZ", "VBD", "MD"} or u.lemma in {"look", "feel", "have", "know", "see", "say", "think", "get", "need", "want"}), None)
    first = units[0]
    if len(units) <= 2 and all(u.kind == "word" for u in units) and units[-1].text in {"out", "off", "on", "in"} and (len(units) == 1 or units[0].text in {"back", "straight", "right"}):
        return Frame(None, way=-1 if units[-1].text in rules["off"] else 1, kind="bare", at=first.at, by="you")  # "number two Phillips, out"
    things = [u for u in units if u.kind in {"thing", "pro"}]
    if not things:
        return None
    supply = next((u for u in units if u.group == "supply"), None)
    if supply and supply_kind(supply.name) == "lubricant" and be is None:
        j = units.index(supply)
        to = [u for u in _ground_for(units, j + 1) if is_part(u)]
        if to:
            return Frame("lubricate", to=tuple(to), kind="spread", at=first.at, by="you")
        on_all = any(u.text in {"each", "everything"} for u in units[j + 1:])
        if on_all or any(u.lemma in rules["amounts"] or u.text in {"little", "thin", "light", "tiny"} for u in units[:j]):
            return Frame("lubricate", kind="spread", at=first.at, by="you")
    if be is None and supply and supply_kind(supply.name) in {"solvent", "cleaner", "wiper"}:
        j = units.index(supply)
        to = [u for u in _ground_for(units, j + 1) if is_part(u)]
        on_wiper = any(u.group in {"tool", "supply"} for u in _ground(units, range(j + 1, len(units)), (supply,)))
        if to or on_wiper and j <= 2:
            return Frame("clean", to=tuple(to), kind="spread", at=first.at, by="you")
    tool = next((u for u in units if u.group == "tool"), None)
    if be is None and tool and units.index(tool) <= 2:
        does = tool_action(tool.name)
        to = [u for u in _ground_for(units, units.index(tool) + 1) if is_part(u)]
        if does and to:
            return Frame(does, to=tuple(to), kind="tool", at=first.at, by="you")
    # thing + particle, at the opening of the clause
    lead = next((j for j, u in enumerate(units) if is_part(u) and not (u.kind == "pro" and j + 2 < len(units) and units[j + 1].lemma == "be" and is_part(units[j + 2]))), None)
    if lead is None or any(u.kind == "word" and u.text in PREPOSITIONS for u in units[:lead]):
        return None
    j = lead
    while j + 2 < len(units) and units[j + 1].text == "and" and units[j + 2].kind in {"thing", "pro"}:
        j += 2
    subjects = [u for u in units[lead:j + 1] if is_part(u)]
    tail = [k for k in range(j + 1, len(units)) if units[k].kind == "word" and units[k].text in _PARTICLES and k not in idle]
    opens = all(u.kind == "word" and (u.tag.startswith("RB") or u.text in {"there", "there's", "that", "'s"} or u.lemma == "be") or u.kind == "pro" for u in units[:lead])
    if tail and opens and units[tail[0]].text != "through" and (tail[0] == j + 1 or be is not None and tail[0] == be + 1 or tail[0] == j + 2 and units[j + 1].tag.startswith("RB")):
        word = units[tail[0]].text
        ends = tail[0] == len(units) - 1
        if word == "back" and len(tail) > 1:
            word, ends = units[tail[1]].text, True
        if be is not None and not (ends and (word in {"off", "out"} or word in {"on", "in"})):
            return None
        way = -1 if word in rules["off"] else 1 if word in rules["on"] else 0
        ground = _ground(units, range(j + 1, len(units)), subjects)
        if word == "down" and head(subjects[-1].text) in rules["operated"]:
            return Frame("test", to=tuple(subjects), kind="bare", at=first.at, by="you")
        if word in {"into", "onto"} and any(is_tray(u) and u.group == "tool" for u in ground):
            return Frame("set aside", to=tuple(subjects), ground=tuple(ground), kind="bare", at=first.at, by="it")
        return Frame(None, way=way, to=tuple(subjects), ground=tuple(ground), kind="bare", at=first.at, verb="be" if be is not None else "", by="it")
    if be is None and opens:
        return Frame(None, way=0, to=tuple(subjects), ground=tuple(_ground(units, range(j + 1, len(units)), subjects)), kind="named", at=first.at, by="it")
    return None


def _ground_for(units: list[Unit], start: int) -> list[Unit]:
    """The things that the first "on", "for", "over", … after a position leads to."""
    found, behind = [], False
    for k, unit in enumerate(units[start:], start):
        if found and not (unit.text == "and" and k + 1 < len(units) and units[k + 1].kind == "thing" or units[k - 1].text == "and"):
            break
        if found and unit.text == "and":
            continue
        if found:
            found.append(unit)
        elif unit.kind == "word" and unit.text in {"on", "for", "over", "to", "in", "into", "around", "along", "through", "across", "round", "inside", "down", "against", "at", "onto", "between", "under"}:
            behind = True
        elif unit.kind in {"thing", "pro"} and behind:
            found.append(unit)
    return found


def _equipped(frame: Frame, units: list[Unit]) -> Frame:
    """The frame with the tool and the supply that its clause names; solvents turn cleaning into degreasing."""
    tools = [u for u in units if u.group == "tool"]
    supplies = [u for u in units if u.group == "supply"]
    do = frame.do
    rank = {"lubricate": ["lubricant"], "clean": ["solvent", "cleaner", "wiper"], "degrease": ["solvent", "cleaner", "wiper"], "dry": ["wiper"]}
    supply = None
    for kind in rank.get(do or "", []):
        supply = supply or next((u for u in supplies if supply_kind(u.name) == kind), None)
    if do == "clean" and supply and supply_kind(supply.name) == "solvent":
        do = "degrease"
    if do in {"clean", "degrease"} and supply is None:
        supply = next((u for u in supplies if supply_kind(u.name) not in {"lubricant", ""}), None)
    return replace(frame, do=do, tool=tools[0] if tools else None, supply=supply)
