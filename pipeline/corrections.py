"""The host's corrections: read from corrections.json, laid over what the machine found.

A correction holds on to a moment and some words, never to a list position, so it survives when the footage is heard or
read again. One that no longer finds its place comes back as `Lost`, and stays in the file.
"""

import json
import re
from collections.abc import Callable
from itertools import groupby
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, TypeAdapter, ValidationError, model_validator
from pydantic_core import PydanticCustomError

from . import record
from .errors import BenchError
from .hearing.words import Word
from .mending import REFUSED, Mended, Refusal
from .mending.figures import figures
from .record import Episode, LedgerLine, Sentence
from .settings import plain_reason
from .bounded import read_bounded
from .shop import write_atomically

About = Literal["sentence", "chapter", "part", "tool", "supply", "step", "still", "fact", "reel", "ledger", "question", "title", "mend"]
KINDS: tuple[str, ...] = get_args(About)

LARGEST_FILE = 4 * 1024 * 1024  # bytes
MOST = 10_000                   # corrections of one episode
NEAR = 30.0                     # seconds that a moment may have shifted when the footage is heard again
SAME_WORDS = 70.0               # rapidfuzz similarity, 0 to 100, from which words are the same in other hearing
SAME_NAME = 85.0                # the same for names, which are short

_TYPES: dict[str, type[record.Entry]] = {
    "sentence": record.Sentence, "chapter": record.Chapter, "part": record.Part, "tool": record.Named, "supply": record.Named,
    "step": record.Step, "still": record.Step, "fact": record.Fact, "reel": record.Reel, "ledger": record.LedgerLine, "question": record.Question}
_LISTS = {"sentence": "sentences", "chapter": "chapters", "part": "parts", "tool": "tools", "supply": "supplies", "step": "steps",
          "still": "steps", "fact": "facts", "reel": "reels", "ledger": "ledger", "question": "questions"}
_MACHINE_FIELDS = {"id", "sentences", "confidence", "heard", "mends", "numbers", "comment_id", "still"}  # not the host's to set

Text = Annotated[str, StringConstraints(max_length=2000)]


def fields_of(about: str) -> dict[str, TypeAdapter]:
    """The fields that a correction of this kind may set, each with the check of its value."""
    if about == "title":
        return {"title": TypeAdapter(Annotated[str, StringConstraints(min_length=1, max_length=500)]),
                "url": TypeAdapter(Annotated[str, StringConstraints(max_length=2000)] | None)}
    if about == "mend":
        return {"to": TypeAdapter(Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)])}
    if about == "still":
        return {"moment": TypeAdapter(record.Seconds)}
    return {name: TypeAdapter(Annotated[field.annotation, *field.metadata] if field.metadata else field.annotation)
            for name, field in _TYPES[about].model_fields.items() if name not in _MACHINE_FIELDS}


class Correction(BaseModel):
    """One correction. `about` and one of `set`, `drop`, `keep`, `add` are needed; `at` (seconds) and `words` say where."""

    model_config = ConfigDict(extra="forbid", populate_by_name=True)

    about: About
    at: float | None = Field(None, ge=0, le=1e6)
    words: Text = ""
    set_: dict[str, Any] | None = Field(None, alias="set")
    drop: Literal[True] | None = None
    keep: Literal[True] | None = None  # right as it is, however unsure it was
    add: dict[str, Any] | None = None
    reason: Text = ""

    @model_validator(mode="after")
    def _whole(self):
        given = [name for name, value in (("set", self.set_), ("drop", self.drop), ("keep", self.keep), ("add", self.add)) if value is not None]
        if len(given) != 1:
            raise _wrong("needs exactly one of set, drop, keep and add" + (f", and has {' and '.join(given)}" if given else ""))
        if self.about == "title":
            if self.set_ is None:
                raise _wrong("a title can only be set")
        elif self.keep and self.about in ("sentence", "question"):
            raise _wrong(f"a {self.about} is not kept: it needs set or drop")
        elif self.about == "still" and (self.add is not None or self.keep):
            raise _wrong("a still can only be set or dropped")
        elif self.about == "mend" and (self.add is not None or self.keep or not self.words.strip()):
            raise _wrong("a mend needs words, and drop (refused here) or set (taught to every episode)")
        elif self.about == "question" and self.add is not None:
            raise _wrong("a question can't be added; import the comment instead")
        elif self.add is None and self.at is None and not self.words.strip():
            raise _wrong("needs at (seconds) or words to find its place")
        elif self.about == "question" and not self.words.strip():
            raise _wrong("a question is found by words: its comment's id, or what it asks")
        for verb, values in (("set", self.set_), ("add", self.add)):
            if values is not None:
                self._check(verb, values)
        return self

    def _check(self, verb: str, values: dict[str, Any]) -> None:
        known = fields_of(self.about)
        if not values:
            raise _wrong(f"{verb} is empty")
        for name, value in values.items():
            if name not in known:
                raise _wrong(f'{verb}: "{name}" is not a field of a {self.about}; it has {", ".join(known)}')
            try:
                values[name] = known[name].dump_python(known[name].validate_python(value), mode="json")
            except ValidationError as error:
                raise _wrong(f'{verb}: "{name}": {plain_reason(error).split(": ", 1)[1]}') from None
        if len(json.dumps(values)) > 20_000:
            raise _wrong(f"{verb} is too long")
        if verb == "add":
            needed = {n for n, f in _TYPES[self.about].model_fields.items() if f.is_required() and n in known}
            if self.at is not None:
                needed -= {"start", "end"}
            needed -= {"end", "text"} if self.about == "step" else {"end"}
            if missing := sorted(needed - set(values)):
                raise _wrong(f"add: {', '.join(missing)} {'is' if len(missing) == 1 else 'are'} missing")

    def __str__(self) -> str:
        where = "" if self.at is None else f" at {_clock(self.at)}"
        return f"{self.about}{where}" + (f' "{self.words[:60]}"' if self.words else "")


class Lost(BaseModel):
    """A correction that found no place this time."""

    number: int  # of the entry in the file, from 1
    correction: Correction
    why: str

    def __str__(self) -> str:
        return f"correction {self.number} ({self.correction}) found no place: {self.why}"


def load(path: Path) -> list[Correction]:
    """The corrections of a file, none where there is no file. BenchError with one line that names the entry and what is wrong."""
    if not path.exists():
        return []
    try:
        rows = json.loads(read_bounded(path, LARGEST_FILE).decode("utf-8"))
    except (ValueError, RecursionError) as error:
        raise BenchError(f"not JSON: {str(error)[:200]}", path) from None
    if not isinstance(rows, list):
        raise BenchError("not a list of corrections", path, "begin the file with [ and end it with ]")
    if len(rows) > MOST:
        raise BenchError(f"more than {MOST} corrections", path)
    found = []
    for number, row in enumerate(rows, 1):
        try:
            found.append(Correction.model_validate(row))
        except ValidationError as error:
            reason = plain_reason(error, Correction)
            raise BenchError(f"correction {number}: {reason.removeprefix(chr(34) + 'the whole' + chr(34) + ': ')}", path) from None
    return found


def dump(corrections: list[Correction]) -> str:
    """The file's text: one JSON list, made to be read and edited by hand."""
    rows = [c.model_dump(by_alias=True, exclude_defaults=True, mode="json") for c in corrections]
    return json.dumps(rows, indent=2, ensure_ascii=False) + "\n"


def save(path: Path, corrections: list[Correction]) -> None:
    write_atomically(path, dump(corrections))


def settles(correction: Correction, comment: str) -> bool:
    """Says this correction how the question of this comment stands, and no more?"""
    return (correction.about == "question" and correction.words.strip() == comment and correction.set_ is not None
            and set(correction.set_) <= {"status", "reply", "answers"})


def choose_still(corrections: list[Correction], episode: Episode, at: float, words: str,
                 choice: float | Literal["none"] | None) -> tuple[list[Correction], record.Step]:
    """The corrections with the host's choice of picture for the step at this moment: a moment in seconds, "none", or None, which
    leaves it to the program again. Gives the step too; BenchError where no step is there, or several are."""
    begun = [i for i, s in enumerate(episode.steps) if int(s.start) == int(at)]  # a time as the guide shows it
    if words:
        found = _place_in(episode, episode.steps, Correction(about="still", at=at, words=words, drop=True))
    elif len(begun) > 1:
        told = " ".join(episode.steps[i].text for i in begun)
        raise BenchError(f"{len(begun)} steps are told there", _clock(at), f"add some words of one of them: {told[:300]}")
    else:
        found = begun[0] if begun else _place_in(episode, episode.steps, Correction(about="still", at=at, drop=True))
    if found is None:
        raise BenchError("no step is told there" + (" in these words" if words else ""), _clock(at), "the guide shows each step's time")
    step = episode.steps[found]
    kept = [c for c in corrections if c.about != "still" or _place_in(episode, episode.steps, c) != found]
    place = {"about": "still", "at": round(step.start, 1), "words": step.text or f"{step.do} {step.part}"}
    if choice is not None:
        kept.append(Correction.model_validate(place | ({"drop": True} if choice == "none" else {"set": {"moment": choice}})))
    return kept, step


def refused(corrections: list[Correction]) -> list[Refusal]:
    """The mends that the host does not want in this episode."""
    return [Refusal(c.words, c.at) for c in corrections if c.about == "mend" and c.drop]


def taught(corrections: list[Correction]) -> dict[str, str]:
    """What was heard and what was meant, taught by one episode to all of them."""
    return {" ".join(c.words.split()): c.set_["to"] for c in corrections if c.about == "mend" and c.set_ is not None}


def mend_sentences(mended: Mended, corrections: list[Correction]) -> tuple[Mended, list[Lost]]:
    """The sentences as the host wants them, before they are read: a pure function between mending and reading."""
    rows = [(s, mended.words[first:last]) for s, (first, last) in zip(mended.sentences, mended.spans)]
    lost = []
    for number, c in enumerate(corrections, 1):
        if c.about == "mend" and c.drop and not _stays(c, mended.sentences):
            lost.append(Lost(number=number, correction=c, why=_why(c)))
        if c.about != "sentence":
            continue
        if c.add is not None:
            start = float(c.add.get("start", c.at))
            text = " ".join(c.add["text"].split())
            end = float(c.add.get("end", start + 0.4 * max(1, len(text.split()))))
            if not text or any(s.text == text and abs(s.start - start) < 1 for s, _ in rows):
                continue
            new = Sentence(id=_free_id("a", {s.id for s, _ in rows}), start=start, end=max(start, end), text=text, heard="")
            rows.append((new, _spread(text.split(), new.start, new.end)))
            rows.sort(key=lambda row: row[0].start)
            continue
        i = _place(c, [s for s, _ in rows], lambda s: (s.start, s.end), lambda s: [s.text, s.heard])
        if i is None:
            lost.append(Lost(number=number, correction=c, why=_why(c)))
        elif c.drop:
            del rows[i]
        else:
            old, words = rows[i]
            new = old.model_copy(update={**c.set_, "text": " ".join(str(c.set_.get("text", old.text)).split())})
            new.end = max(new.start, new.end)
            new.numbers = figures(new.text)
            if not new.text:
                del rows[i]
            else:
                moved = (new.start, new.end) != (old.start, old.end)
                rows[i] = new, _spread(new.text.split(), new.start, new.end) if moved else _retimed(words, new)
    rows.sort(key=lambda row: row[0].start)
    words, spans = [], []
    for _, own in rows:
        spans.append((len(words), len(words) + len(own)))
        words += own
    return mended.model_copy(update={"sentences": [s for s, _ in rows], "words": words, "spans": spans}), lost


def _stays(c: Correction, sentences: list[Sentence]) -> bool:
    """Does what this correction refuses to mend stand there as heard?"""
    words = c.words.lower().split()
    near = [s for s in sentences if c.at is None or s.start - NEAR <= c.at <= s.end + NEAR]
    heard = (text.lower().split() for s in near for text in (s.heard, *(m.to for m in s.mends if m.why == REFUSED)))
    strip = lambda row: [re.sub(r"^\W+|\W+$", "", w) for w in row]
    return any(f" {' '.join(strip(words))} " in f" {' '.join(strip(row))} " for row in heard)


def lay_over(episode: Episode, corrections: list[Correction],
             ledger_of: Callable[[list[record.Step]], list[LedgerLine]] | None = None) -> tuple[Episode, list[Lost]]:
    """The record with the host's corrections on top, but for sentences and questions. The episode given stays as it is.

    Steps come first: where they were corrected, `ledger_of` makes the ledger again from them. A new name of a part, tool
    or supply goes through the whole record.
    """
    episode = episode.model_copy(deep=True)
    lost: list[Lost] = []
    for kind in ("title", "step", "still", "part", "tool", "supply", "fact", "reel", "ledger", "chapter"):
        own = [(n, c) for n, c in enumerate(corrections, 1) if c.about == kind]
        for number, c in own:
            if not _apply(episode, c):
                lost.append(Lost(number=number, correction=c, why=_why(c)))
        if kind == "step" and own and ledger_of:
            episode.ledger = ledger_of(episode.steps)
    for name in ("chapters", "steps", "facts"):
        getattr(episode, name).sort(key=lambda item: item.start)
    if episode.chapters:
        episode.chapters[0].start = 0.0  # an episode has a chapter from its first moment on
    return episode, sorted(lost, key=lambda item: item.number)


def lay_over_questions(episode: Episode, corrections: list[Correction]) -> tuple[Episode, list[Lost]]:
    """The same for questions, which are found only after the rest of the record stands."""
    episode = episode.model_copy(deep=True)
    lost = [Lost(number=number, correction=c, why="no comment has this id or asks this")
            for number, c in enumerate(corrections, 1) if c.about == "question" and not _apply(episode, c)]
    return episode, lost


def _apply(episode: Episode, c: Correction) -> bool:
    if c.about == "title":
        for name, value in c.set_.items():
            setattr(episode, name, value)
        return True
    rows = getattr(episode, _LISTS[c.about])
    if c.add is not None:
        _add(rows, c)
        return True
    i = _place_in(episode, rows, c)
    if i is None:
        return False
    if c.about == "still":
        rows[i].still = "none" if c.drop else c.set_["moment"]
        return True
    if c.drop:
        del rows[i]
        return True
    old = rows[i]
    sure = {"confidence": 1.0}
    rows[i] = type(old).model_validate(old.model_dump() | (c.set_ or {}) | sure)
    if c.keep:
        return True
    if c.about == "step" and "text" not in c.set_ and {"do", "part", "qty", "tool", "supply"} & set(c.set_):
        rows[i].text = _worded(rows[i].model_dump())  # what the old frame said is not what the host says
    if c.about in ("part", "tool", "supply") and "name" in c.set_:  # its plain name, too, where the steps have another of its names
        rows[i].names = list(dict.fromkeys([rows[i].name, *rows[i].names]))
        _rename(episode, c.about, old, rows[i].name, {n for row in rows if row is not rows[i] for n in (row.name, *row.names)})
    return True


def _worded(step: dict[str, Any]) -> str:
    from .trade.wording import worded

    return worded(record.Step.model_construct(**step))


def _add(rows: list, c: Correction) -> None:
    values = dict(c.add)
    kind = _TYPES[c.about]
    if "start" in kind.model_fields:
        values.setdefault("start", c.at)
        if "end" in kind.model_fields:
            values["end"] = max(values["start"], values.get("end") or values["start"])
    elif "at" in kind.model_fields and c.at is not None:
        values.setdefault("at", [[c.at, c.at]])
    if c.about == "step":
        values["id"] = _free_id("a", {s.id for s in rows})
        values.setdefault("text", _worded(values))
    if "names" in kind.model_fields:
        values["names"] = list(dict.fromkeys([values["name"], *values.get("names", [])]))
    new = kind.model_validate(values)
    # what a newer version finds by itself must not stand there twice
    same = next((i for i, old in enumerate(rows) if _same_thing(c.about, old, new)), None)
    if same is None:
        rows.append(new)
    else:
        rows[same] = kind.model_validate(rows[same].model_dump() | {k: v for k, v in values.items() if k != "id"} | {"confidence": 1.0})


def _same_thing(about: str, old, new) -> bool:
    if about in ("part", "tool", "supply"):
        return old.name.lower() == new.name.lower()
    if about == "reel":
        return (old.maker or "").lower() == (new.maker or "").lower() and old.model.lower() == new.model.lower()
    if about == "ledger":
        return old.part == new.part and old.off == new.off and old.on == new.on
    if about == "chapter":
        return abs(old.start - new.start) < 1
    near = abs(old.start - new.start) < 3
    return near and ((old.do, old.part) == (new.do, new.part) if about == "step" else old.kind == new.kind and old.text == new.text)


def _rename(episode: Episode, about: str, thing: record.Named, new: str, others: set[str]) -> None:
    """`thing` is called `new` from here on. A step, a fact or the ledger may have it in the host's own word, one of its names: that word
    goes too, unless one of the `others` also goes by it or by it with more before it ("screw" beside a "lock screw")."""
    old = {thing.name} | {name for name in thing.names if not any(f" {other}".endswith(f" {name}") for other in others)}
    for step in episode.steps:
        if (word := getattr(step, about)) in old:
            setattr(step, about, new)
            step.text = step.text.replace(word, new)
    full = re.compile(rf"\b(?:{'|'.join(re.escape(word) for word in sorted({new, *(w for w in old if ' ' in w)}, key=len, reverse=True))})(?=s?\b)", re.I)
    for chapter in episode.chapters:  # the host's own titles are laid on after this
        chapter.title = full.sub(lambda m: new[0].upper() + new[1:] if m.start() == 0 else new, chapter.title)
    if about == "part":
        for row in (*episode.facts, *episode.ledger):
            if row.part in old:
                row.part = new


def _place_in(episode: Episode, rows: list, c: Correction) -> int | None:
    if c.about in ("part", "tool", "supply"):
        return _named(c, rows, lambda r: [r.name, *r.names], lambda r: r.at)
    if c.about == "reel":
        return _named(c, rows, lambda r: [f"{r.maker or ''} {r.model}".strip(), r.model], lambda r: r.at)
    if c.about == "question":
        exact = next((i for i, q in enumerate(rows) if q.comment_id == c.words.strip()), None)
        return exact if exact is not None else _named(c, rows, lambda q: q.asks, lambda q: [])
    if c.about == "ledger":
        span = lambda r: (min(t for t in (r.off, r.on, 1e9) if t is not None), max(t for t in (r.off, r.on, 0.0) if t is not None))
        return _place(c, rows, span, lambda r: [r.part])
    if c.about == "chapter":
        return _place(c, rows, lambda r: (r.start, r.start), lambda r: [r.title, *_said_at(episode, r.start)], time_alone=10.0)
    said = {s.id: s.text for s in episode.sentences}
    words = lambda r: [r.text, r.part or "", *([f"{r.do} {r.part}"] if c.about in ("step", "still") else []), *(said[i] for i in r.sentences if i in said)]
    return _place(c, rows, lambda r: (r.start, r.end), words)


def _said_at(episode: Episode, moment: float) -> list[str]:
    return [s.text for s in episode.sentences if s.start - 1 <= moment <= s.end + 1][:3]


def _place(c: Correction, rows: list, span, words, time_alone: float = 3.0) -> int | None:
    """The row of this moment and these words. Words alone must be unlike anywhere else; a moment alone must be close."""
    best, second, found = 0.0, 0.0, None
    for i, row in enumerate(rows):
        start, end = span(row)
        away = 0.0 if c.at is None else max(start - c.at, c.at - end, 0.0)
        if c.words.strip():
            alike = max((_alike(c.words, w) for w in words(row) if w), default=0.0)
            if alike < SAME_WORDS or away > NEAR:
                continue
            merit = alike - away
        elif away <= time_alone:
            merit = 100 - away
        else:
            continue
        if merit > best:
            best, second, found = merit, best, i
        elif merit > second:
            second = merit
    if c.at is None and found is not None and best - second < 1:
        return None  # the same words stand in several places, and no moment says which
    return found


def _named(c: Correction, rows: list, names, moments) -> int | None:
    best, found = 0.0, None
    for i, row in enumerate(rows):
        merit = max((_alike(c.words, n, whole=True) for n in names(row)), default=0.0) if c.words.strip() else 100.0
        if merit < SAME_NAME:
            continue
        away = min((max(a - c.at, c.at - b, 0.0) for a, b in moments(row)), default=1e4) if c.at is not None else 0.0
        if not c.words.strip() and away > 3:
            continue
        merit -= min(away, 100.0) / 10
        if found is None or merit > best:
            best, found = merit, i
    return found


def _alike(a: str, b: str, whole: bool = False) -> float:
    from rapidfuzz import fuzz
    from rapidfuzz.utils import default_process

    a, b = default_process(a), default_process(b)
    if a == b:
        return 101.0
    if whole or len(a) > len(b) * 1.5:
        return fuzz.ratio(a, b)
    return fuzz.partial_ratio(a, b) if len(a) >= 5 else fuzz.token_set_ratio(a, b)


def _why(c: Correction) -> str:
    if c.at is not None and c.words:
        return f"nothing with these words near {_clock(c.at)}"
    return f"nothing near {_clock(c.at)}" if c.at is not None else "these words stand nowhere, or in several places (give at)"


def _free_id(letter: str, taken: set[str]) -> str:
    return next(f"{letter}{n}" for n in range(1, len(taken) + 2) if f"{letter}{n}" not in taken)


def _spread(texts: list[str], start: float, end: float) -> list[Word]:
    """Words over a time, each by its share of the letters."""
    letters, at, words = sum(map(len, texts)), start, []
    for text in texts:
        last = at + (end - start) * len(text) / letters
        words.append(Word(text=text, start=round(at, 3), end=round(last, 3)))
        at = last
    return words


def _retimed(words: list[Word], sentence: Sentence) -> list[Word]:
    """The sentence's new words: those that stayed keep their times, the new ones share the time of those they replace."""
    from rapidfuzz.distance import Levenshtein

    texts, old = sentence.text.split(), [w.text for w in words]
    if not words:
        return _spread(texts, sentence.start, sentence.end)
    out: list[Word] = []
    changed = groupby(Levenshtein.opcodes(old, texts), key=lambda op: op.tag != "equal")
    for new, ops in ((new, list(ops)) for new, ops in changed):
        first, last = ops[0].src_start, ops[-1].src_end
        if not new:
            out += words[first:last]
            continue
        start = words[first].start if first < last else words[first - 1].end if first else sentence.start
        end = words[last - 1].end if first < last else words[last].start if last < len(words) else sentence.end
        out += _spread(texts[ops[0].dest_start:ops[-1].dest_end], start, max(start, end))
    return out


def _clock(seconds: float) -> str:
    whole = int(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def _wrong(message: str) -> PydanticCustomError:
    return PydanticCustomError("correction", "{message}", {"message": message})
