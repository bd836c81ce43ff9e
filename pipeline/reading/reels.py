"""Which reels are named: the one on the bench, those the same service covers, and those mentioned in passing.

A model is a name with a number ("Gannet 30", "Pike 610C", "Alder 5/6") or, once its family is known, the number alone
("the forty"). Where the title or the glossary gives a name, what only sounds like it is taken for it.
"""

import re
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from functools import cached_property

from spacy.tokens import Doc, Token

from ..mending.sounds import phrase_sound, sound_distance
from ..record import Reel
from ..trade import data
from .talk import Talk

_UNITS = {w: n for n, w in enumerate("zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split())}
_TENS = {w: 10 * n for n, w in enumerate("twenty thirty forty fifty sixty seventy eighty ninety".split(), 2)}
_NUMBER = re.compile(r"[A-Z]{0,4}-?\d{1,5}(?:,\d{3})?(?:/\d{1,2})?[A-Z]{0,4}(?:-\d{1,2})?")
_NOT_A_MODEL = {"pound", "pounds", "ounce", "ounces", "gram", "grams", "inch", "inches", "mil", "mill", "mm", "millimeter", "millimetre", "millimeters", "thou", "thousandths", "percent", "%", "minutes",
                "minute", "years", "year", "degrees", "screws", "screw", "dollars", "bucks", "weight", "grit", "paper", "foot", "feet", "teeth", "drops", "turns", "to", "by", "times", "or", "bearings", "of", "kit", "dash", "point",
                "hours", "hour", "long", "yards", "dogs", "ones", "springs", "pins", "washers", "more", "days", "o'clock", "-"}
_CORRECTS = {"no", "sorry", "mean", "rather", "correction", "wait"}
_NO_NAMES = {"i", "okay", "ok", "so", "and", "the", "number", "part", "numbers", "about", "another", "hey", "now", "phillips", "over", "under", "only", "all", "like", "torx", "size", "page", "step", "episode", "grade"}
_ALIKE, _ALIKE_OF_A_SISTER, _ALIKE_WITH_ITS_NUMBER, _ALIKE_WHERE_INTRODUCED = 0.3, 0.4, 0.5, 0.6  # how far a wording may sound from a known name, as a share of its length


@dataclass(frozen=True, slots=True)
class _Model:
    maker: str | None
    family: str       # "Gannet"; "" for a model that is a number alone
    number: str       # "30"; "" for a model that is a name alone

    @property
    def name(self) -> str:
        return f"{self.family} {self.number}".strip()


@dataclass
class _Said:
    """One model named in one sentence: tokens [start, end)."""

    sentence: int
    start: int
    end: int
    family: str
    number: str
    maker: str | None = None
    sure: float = 0.9
    corrected: bool = field(default=False)


def model_of_title(title: str) -> _Model | None:
    """The reel that a title names: "Servicing a Corvane Mistral 4/0" is maker Corvane, model Mistral 4/0. None where it names none."""
    skip = set(data("reels")["title_words"])
    runs: list[list[str]] = [[]]
    for word in re.findall(r"[^\s,:;()!?|]+|[,:;()!?|]", title.strip()):
        plain = word.strip("'\"“”.")
        if plain.lower() in skip or not plain or not (plain[:1].isupper() or plain[:1].isdigit()):
            runs.append([])
        else:
            runs[-1].append(re.sub(r"['’]s$", "", plain))
    for run in runs:
        while len(run) > 1 and run[0].lower() in data("reels")["people"]:  # "Uncle Lew's Corvane Mistral": whose it is
            del run[:2 if len(run) > 3 else 1]
    best = max((r for r in runs if r), key=lambda r: (any(c.isdigit() for c in r[-1]) and len(r) > 1, any(c.isdigit() for w in r for c in w), len(r)), default=None)
    if not best or all(w.isdigit() for w in best):
        return None
    at = next((i for i, w in enumerate(best) if any(c.isdigit() for c in w) or i and w.lower() in _UNITS), len(best))
    words, number = best[:at], best[at] if at < len(best) else ""
    varieties = set(data("reels")["varieties"])
    tail = [w for w in best[at + 1:] if w.isupper() and len(w) <= 4 or w.lower() in varieties]
    number = " ".join([number, *tail]).strip()
    if len(words) >= 2 or words and number and any(c.isalpha() for c in number) and re.match(r"[A-Z]{2,}|[A-Z]+-", number):
        family = " ".join(words[1:])
        return _Model(words[0], family, number)
    return _Model(None, " ".join(words), number)


def find_reels(talk: Talk) -> list[Reel]:
    """Every reel model named, once each, with its role and where it was named."""
    return _Search(talk).reels()


@dataclass
class _Search:
    talk: Talk

    @cached_property
    def bench(self) -> _Model | None:
        return model_of_title(self.talk.title) if self.talk.title else None

    @cached_property
    def families(self) -> dict[str, tuple[str | None, str]]:
        """Known names of model families: their sound, to (maker, family)."""
        known = [(self.bench.maker, self.bench.family)] if self.bench and self.bench.family else []
        for maker, model in self.talk.trade.glossary.models:
            family = " ".join(w for w in model.split() if not any(c.isdigit() for c in w))
            if family:
                known.append((maker, family))
        return {phrase_sound(family.lower().split()): (maker, family) for maker, family in known}

    @cached_property
    def makers(self) -> set[str]:
        return {m for m in (*self.talk.trade.glossary.makers, self.bench.maker if self.bench else None) if m}

    def reels(self) -> list[Reel]:
        said = self._named()
        if not self.bench:
            self._guess_bench(said)
        elif not self.bench.number:
            self._number_of_bench(said)
        said += self._bare_numbers(said)
        said += self._name_alone(said)
        said.sort(key=lambda s: (s.sentence, s.start))
        by_model: dict[tuple[str, str], list[_Said]] = defaultdict(list)
        for one in said:
            if not one.corrected:
                by_model[one.family, self._as_written(one)].append(one)
        reels = []
        if self.bench and (self.bench.family, self.bench.number) not in by_model:
            reels.append(self._reel(self.bench.maker, self.bench.family, self.bench.number, "on_bench", [], 0.9))
        for (family, number), places in by_model.items():
            maker = next((p.maker for p in places if p.maker), None)
            if self.bench and (family, number) == (self.bench.family, self.bench.number):
                reels.append(self._reel(self.bench.maker or maker, family, number, "on_bench", places, 0.95 if self.talk.title else 0.75))
                continue
            same = any(self._same_service(p) for p in places)
            if not maker and self.bench and family == self.bench.family:
                maker = self.bench.maker
            sure = max(p.sure for p in places)
            reels.append(self._reel(maker, family, number, "same_service" if same else "mentioned", places, min(sure, 0.85)))
        return reels

    def _as_written(self, one: _Said) -> str:
        """The number as the title writes its own: "20 LC" beside "30 LC", "Five" beside "Four"; the bench reel's own goes by its figures alone."""
        mine = self.bench.number if self.bench and one.family == self.bench.family else ""
        figures = re.match(r"\d+", mine)
        if mine and one.number in (mine, mine.replace(" ", ""), figures[0] if figures else None):
            return mine
        if mine.lower() in _UNITS and one.number.isdigit() and int(one.number) < len(_UNITS):
            return mine if _UNITS[mine.lower()] == int(one.number) else list(_UNITS)[int(one.number)].capitalize()
        return re.sub(r"(?<=\d)(?=[A-Z])", " ", one.number) if re.search(r"\d [A-Z]+$", mine) else one.number

    def _number_of_bench(self, said: list[_Said]) -> None:
        """A title that names no number: the first that the host says after the family's name."""
        first = next((s for s in said if s.family == self.bench.family and not s.corrected and s.sentence < self._early), None)
        if first:
            self.bench = _Model(self.bench.maker or first.maker, self.bench.family, first.number)

    def _reel(self, maker, family, number, role, places: list[_Said], confidence: float) -> Reel:
        sentences = [self.talk.sentences[i] for i in dict.fromkeys(p.sentence for p in places)]
        return Reel(maker=maker, model=f"{family} {number}".strip(), role=role, at=[(s.start, s.end) for s in sentences],
                    sentences=[s.id for s in sentences], confidence=confidence)

    def _named(self) -> list[_Said]:
        """Names with a number after them."""
        found, counts = [], defaultdict(int)
        for i, doc in enumerate(self.talk.docs):
            at = 0
            while at < len(doc):
                number, end = spoken_model(doc, at)
                one = self._name_before(doc, i, at, end, number) if number else None
                if one:
                    found.append(one)
                    counts[one.family] += 1
                    self._correct(found, doc, one)
                at = end if number else at + 1
        return found

    def _name_before(self, doc: Doc, i: int, at: int, end: int, number: str) -> _Said | None:
        if end < len(doc) and doc[end].lower_ in _NOT_A_MODEL:
            return None
        first = at
        while first > 0 and doc[first - 1].lower_ in ("-", "uh", "um", ",") and at - first < 3:
            first -= 1
        for start, words in _wordings(doc, first):
            heard = phrase_sound(words)
            for sound, (maker, family) in {**self.families, **self.heard_as}.items():
                if " ".join(words) == family.lower() or self._sounds_like(heard, sound, family, number):
                    return _Said(i, start, end, family, number, maker)
            if heard in self.sisters_heard_as:
                return _Said(i, start, end, self.bench.family, number, self.bench.maker)
        names: list[Token] = []
        j = first - 1
        while j >= 0 and len(names) < 3 and _is_name(doc[j], opens=j == 0):
            names.insert(0, doc[j])
            j -= 1
        if not names:
            return None
        if any(self._of_trade(t) for t in names[-1:]) or len(names) == 1 and names[0].text not in self.makers and not self._introduced(doc, j + 1):
            return None
        maker = None
        if len(names) >= 2:
            maker, family = names[0].text, " ".join(t.text for t in names[1:])
        else:
            family = names[0].text
            maker = self._maker_nearby(doc, j + 1, end)
        if family in self.makers and len(names) == 1:
            maker, family = family, ""
            if not re.search(r"[A-Za-z]", number):
                return None
        return _Said(i, j + 1, end, re.sub(r"['’]s$", "", family), number, maker, 0.75)

    @staticmethod
    def _of_trade(token: Token) -> bool:
        return any(span.start <= token.i < span.end for span in token.doc.spans["terms"])

    @staticmethod
    def _introduced(doc: Doc, start: int) -> bool:
        """An article or an owner stands before a model's name, with at most two words between: "the little Alder four", never "Tom four"."""
        for token in reversed(doc[max(0, start - 3):start]):
            if token.tag_ in ("DT", "PRP$", "POS"):
                return True
            if token.pos_ not in ("ADJ", "NOUN", "PROPN"):
                return False
        return False

    def _name_alone(self, said: list[_Said]) -> list[_Said]:
        """Models that are names without a number: "a Bannow Swift", "the Alder Junior", beside the bench reel "the Piper"."""
        taken = {(s.sentence, t) for s in said for t in range(s.start, s.end)}
        varieties, people = set(data("reels")["varieties"]), set(data("reels")["people"])
        first = min((s.sentence for s in said if self.bench and s.family == self.bench.family), default=None)
        found: list[_Said] = []
        for i, doc in enumerate(self.talk.docs):
            at = 0
            while at < len(doc):
                end = at
                while end < len(doc) and end - at < 4 and (i, end) not in taken and self._may_name(doc[end]):
                    end += 1
                words = [re.sub(r"['’]s$", "", t.text) for t in doc[at:end]]
                goes_on = end < len(doc) and ((i, end) in taken or doc[end].text == "-" or spoken_model(doc, end)[0] or doc[end].pos_ == "NOUN" or self._of_trade(doc[end]))
                if not words or words[0].lower() in people or goes_on:
                    at = max(end, at + 1)
                    continue
                before = doc[at - 1].lower_ if at else ""
                own = self.bench and self.bench.family and words[0] == self.bench.family.split()[0]
                near = first is not None and 0 <= i - first <= 6
                if words[0] in self.makers and len(words) > 1 and words[1] not in self.bench_words:
                    found.append(_Said(i, at, end, " ".join(words[1:]), "", words[0], 0.7))
                elif own and len(words) > 1 and words[-1].lower() in varieties and words != self.bench_words:
                    found.append(_Said(i, at, end, " ".join(words), "", self.bench.maker, 0.7))
                elif not own and len(words) == 2 and before in ("a", "an") and words[0] not in self.makers:
                    found.append(_Said(i, at, end, words[1], "", words[0], 0.6))
                elif not own and near and before == "the" and words[0] not in self.makers and words[0].lower() not in varieties and (len(words) == 1 or words[-1].lower() in varieties):
                    found.append(_Said(i, at, end, " ".join(words), "", self.bench.maker if self.bench else None, 0.6))
                at = end
        return found

    @cached_property
    def bench_words(self) -> list[str]:
        return self.bench.name.split() if self.bench else []

    def _may_name(self, token: Token) -> bool:
        return token.text[:1].isupper() and token.is_alpha and len(token) > 2 and token.i > 0 and token.lower_ not in _NO_NAMES and not token.is_stop \
            and token.pos_ in ("PROPN", "NOUN") and not self._of_trade(token) and token.lower_ not in _UNITS and token.lower_ not in _TENS \
            and token.ent_type_ == "" and token.lower_ not in set(data("reels")["no_models"])

    @cached_property
    def heard_as(self) -> dict[str, tuple[str | None, str]]:
        """What the speech model makes of the bench reel's name: the wording before its number where the host introduces it."""
        nearest = (min(said, key=lambda s: s[2]) for number, _, said in self._introductions if said and number == self.bench.number)
        return {sound: (self.bench.maker, self.bench.family) for _, sound, far in nearest if far <= _ALIKE_WHERE_INTRODUCED}

    @cached_property
    def sisters_heard_as(self) -> set[str]:
        """The sound of wordings that stand for the bench reel's family before a sister's number, where the host introduces them: "the pectoral 3000" beside a Petrel 2500."""
        return {sound for number, after, said in self._introductions if self._alike_number(number) and after.lower() not in _NOT_A_MODEL
                for introduced, sound, far in said if introduced and far <= _ALIKE_OF_A_SISTER}

    @cached_property
    def _introductions(self) -> list[tuple[str, str, list[tuple[bool, str, float]]]]:
        """Every number in the first part of the talk, the word after it, and of each wording before it whether an article introduces it, its sound, and how far that is from the bench reel's name, as a share of its length."""
        if not self.bench or not self.bench.family or not self.bench.number:
            return []
        known, found = phrase_sound(self.bench.family.lower().split()), []
        for doc in self.talk.docs[:self._early]:
            for token in doc:
                number, end = spoken_model(doc, token.i)
                if number:
                    sounds = [(self._introduced(doc, start), phrase_sound(words)) for start, words in _wordings(doc, token.i)]
                    found.append((number, doc[end:end + 1].text, [(introduced, sound, sound_distance(sound, known) / len(known)) for introduced, sound in sounds]))
        return found

    @property
    def _early(self) -> int:
        """Sentences in which a host introduces the reel."""
        return max(30, len(self.talk.docs) // 4)

    def _sounds_like(self, heard: str, sound: str, family: str, number: str) -> bool:
        own = self.bench and family == self.bench.family
        if own and number == self.bench.number:
            limit = _ALIKE_WITH_ITS_NUMBER
        elif own and len(number) == 1 < len(self.bench.number):
            return False
        else:
            limit = _ALIKE
        return len(heard) >= 0.6 * len(sound) and sound_distance(heard, sound) <= limit * len(sound)

    def _maker_nearby(self, doc: Doc, start: int, end: int) -> str | None:
        """"A Pellow, a Corrie twenty five"; "a Tern six, that's Ostrell's fly reel"."""
        if start >= 4 and doc[start - 1].lower_ in ("a", "an", "the") and doc[start - 2].text == "," and _is_name(doc[start - 3], False):
            return doc[start - 3].text
        return next((t.text for t in doc[end:end + 8] if t.text in self.makers), None)

    def _correct(self, found: list[_Said], doc: Doc, one: _Said) -> None:
        """"Sprite one hundred, no, sorry, one oh one": the second number stands, also where the captions end a sentence in between."""
        ahead = [(one.sentence, t) for t in doc[one.end:one.end + 7]]
        for later in range(one.sentence + 1, min(one.sentence + 5, len(self.talk.docs))):
            ahead += [(later, t) for t in self.talk.docs[later]]
        ahead = [(n, t) for n, t in ahead if not t.is_punct][:7]
        if not any(t.lower_ in _CORRECTS for _, t in ahead[:3]):
            return
        for sentence, t in ahead:
            number, end = spoken_model(t.doc, t.i)
            if number and (end >= len(t.doc) or t.doc[end].is_punct or t.doc[end].lower_ not in _NOT_A_MODEL):
                if number != one.number and len(number) == len(one.number):
                    one.corrected = True
                    found.append(_Said(sentence, t.i, end, one.family, number, one.maker, 0.8))
                return

    def _guess_bench(self, said: list[_Said]) -> None:
        """Without a title: the first model that the host says he has here, else the one named first and most, as it was heard."""
        patterns = [re.compile(p) for p in data("reels")["bench"]]
        heard = [s for s in (*said, *self._lower_case()) if not s.corrected]
        counts = Counter(s.family for s in heard)

        def weight(s: _Said) -> tuple:
            doc = self.talk.docs[s.sentence]
            cued = any(p.search(doc[:s.start].text.lower()) for p in patterns) and not doc._.context & {"past", "elsewhere", "negated"}
            return (cued, counts[s.family], -s.sentence)

        heard = [s for s in heard if s.sentence < self._early and (s.sure > 0.5 or counts[s.family] > 1 or weight(s)[0])]
        if not heard:
            return
        best = max(heard, key=weight)
        family, often = best.family, max(counts, key=counts.get)
        if counts[best.family] == 1 < counts[often]:  # named once so, and later again and again by what sounds alike: the same family
            known = phrase_sound(often.lower().split())
            if sound_distance(phrase_sound(family.lower().split()), known) <= _ALIKE_WHERE_INTRODUCED * len(known):
                family = often
        self.bench = _Model(best.maker, family, best.number)
        for cached in ("families", "heard_as", "sisters_heard_as", "_introductions"):
            self.__dict__.pop(cached, None)
        said[:] = self._named()

    def _lower_case(self) -> list[_Said]:
        """What may be a model heard as a plain word: "the petrol 2500", "an astral petrol 25"."""
        found = []
        for i, doc in enumerate(self.talk.docs):
            inside = {t for span in doc.spans["terms"] for t in range(span.start, span.end)}
            for token in doc[:-1]:
                if token.i == 0 or not token.is_alpha or token.is_stop or token.text[0].isupper() or token.i in inside or token.lower_ in _NO_NAMES | _NOT_A_MODEL:
                    continue
                number, end = spoken_model(doc, token.i + 1)
                determined = any(t.tag_ in ("DT", "PRP$") for t in doc[max(0, token.i - 3):token.i])
                if not determined or not number or end < len(doc) and doc[end].lower_ in _NOT_A_MODEL:
                    continue
                if token.pos_ in ("NOUN", "PROPN"):
                    found.append(_Said(i, token.i, end, token.text.capitalize(), number, None, 0.5))
        return found

    def _bare_numbers(self, said: list[_Said]) -> list[_Said]:
        """"If you've got a forty": the number alone, once the family is known."""
        if not self.bench or not self.bench.family:
            return []
        known = {s.number for s in said if s.family == self.bench.family} | {self.bench.number}
        taken = {(s.sentence, t) for s in said for t in range(s.start, s.end)}
        early, found = max(25, len(self.talk.docs) // 6), []
        for i, doc in enumerate(self.talk.docs):
            for token in doc:
                told = i < early and doc[token.i - 1:token.i].text.lower() in ("says", "have", "got", "reads")
                if token.i == 0 or (i, token.i) in taken or not told and doc[token.i - 1].lower_ not in ("the", "a", "an", "your", "both", "old", "little", "big", "later"):
                    continue
                number, end = spoken_model(doc, token.i)
                if not number or end < len(doc) and (doc[end].lower_ in _NOT_A_MODEL or doc[end].pos_ in ("NOUN", "ADJ", "NUM") and doc[end].lower_ not in ("is", "has", "as", "and")):
                    continue
                before = doc[max(0, token.i - 5):token.i].text.lower()
                owning = re.search(r"(?:you got|you've got|'ve got|you have|own|yours is|yours was|(?:yours|it|foot|plate|side) (?:says|reads))(?: (?:a|an|the|your))?\s*$", before)
                if doc[token.i].lower_ == "one" and end == token.i + 1:
                    continue
                alike = self._alike_number(number)
                if number in known or alike and (owning or i < early and self._is_subject(doc, end)):
                    found.append(_Said(i, token.i, end, self.bench.family, number, self.bench.maker, 0.85 if number in known else 0.6))
        return found

    def _alike_number(self, number: str) -> bool:
        """A number that a sister of the bench reel may have: as long, within a few times its size, lettered only where the bench reel may be too."""
        mine, other = (re.match(r"(\d+)\s?([A-Z]*)$", n) for n in (self.bench.number, number))
        if not mine or not other or number == self.bench.number:
            return False
        size, its, lettered = int(mine[1]), int(other[1]), bool(mine[2]) and mine[2] == other[2]
        digits = abs(len(mine[1]) - len(other[1])) <= (lettered or size >= 1000 or its % 10 == 0 and size % 10 == 0)
        return digits and 0.25 * size <= its <= 4 * size and (size > 9 or lettered)

    @staticmethod
    def _is_subject(doc: Doc, end: int) -> bool:
        """The number is what the sentence is about: "the fifty has a wider spool"."""
        return doc[end - 1].text.endswith("s") or end < len(doc) and (doc[end].text == "," or doc[end].lower_ in data("reels")["of_a_reel"])

    def _same_service(self, one: _Said) -> bool:
        rules, doc = data("reels"), self.talk.docs[one.sentence]
        text = f"{doc[:one.start].text.lower()} REEL {doc[one.end:].text.lower()}"
        if doc._.context & {"past"} or any(re.search(p, text.lower()) for p in rules["not_same"]):
            return False
        if any(re.search(p, text) for p in rules["same"]):
            return True
        if self.bench and one.family != self.bench.family:
            return False
        for later in range(one.sentence, min(one.sentence + 4, len(self.talk.docs))):
            text = self.talk.docs[later].text.lower() if later > one.sentence else doc[one.end:].text.lower()
            if later > one.sentence and any(re.search(p, text) for p in rules["not_same"]):
                return False
            if re.search(r"\bsame one as\b|\bsame kit\b|\bsame .{0,20} as in\b", text):
                continue
            if any(re.search(p, text) for p in rules["same_after"]):
                return later == one.sentence or later - one.sentence <= 3
        return False


def _wordings(doc: Doc, end: int) -> list[tuple[int, list[str]]]:
    """The one to three words before token `end`, with where they begin; hyphens do not count, plain function words are no name."""
    found, words, start = [], [], end
    while start > 0 and len(words) < 3 and (doc[start - 1].is_alpha or doc[start - 1].text == "-"):
        start -= 1
        if doc[start].is_alpha:
            words.insert(0, doc[start].lower_)
            if not doc[start].is_stop:
                found.append((start, list(words)))
    return found


def _is_name(token: Token, opens: bool) -> bool:
    """A capitalised word that may be a maker's or a model's name."""
    return (token.text[:1].isupper() and token.is_alpha and len(token) > 2 and token.lower_ not in _NO_NAMES and token.lower_ not in _UNITS and token.lower_ not in _TENS
            and (token.pos_ == "PROPN" or not opens and token.pos_ in ("NOUN", "ADJ", "VERB")) and not token.is_stop)


def spoken_model(doc: Doc, at: int) -> tuple[str, int]:
    """A model's number at token `at`, written out, and the token after it; ("", at) where there is none.

    "twenty five hundred" is 2500, "one oh one" 101, "four aught" 4/0, "seventy three hundred C" 7300C, "L D thirty" LD30.
    """
    letters, i = "", at
    while i < len(doc) and re.fullmatch(r"[A-Z]", doc[i].text) and doc[i].text not in ("I", "A") and len(letters) < 3:
        letters, i = letters + doc[i].text, i + 1
    written, end = _written_number(doc, i)
    if not written:
        return "", at
    if end < len(doc) and re.fullmatch(r"[A-Z]{1,3}", doc[end].text) and doc[end].text not in ("I", "A", "OK"):
        written, end = written + doc[end].text, end + 1
    return letters + written, end


def _written_number(doc: Doc, i: int) -> tuple[str, int]:
    if i >= len(doc):
        return "", i
    text = re.sub(r"^(\d+)['’]?s$", r"\1", doc[i].text.rstrip(".,"))
    if _NUMBER.fullmatch(text) and any(c.isdigit() for c in text):
        after = i + 1
        if after + 1 < len(doc) and doc[after].text == "/" and doc[after + 1].text.isdigit():
            return f"{text}/{doc[after + 1].text}", after + 2
        if after < len(doc) and doc[after].lower_ in ("aught", "ought", "0") and text in "123456789":
            return f"{text}/0", after + 1
        return text.replace(",", ""), after
    words = []
    while i + len(words) < len(doc):
        word = doc[i + len(words)].lower_
        if word in _UNITS or word in _TENS or words and word in ("hundred", "thousand", "oh", "o", "aught", "ought", "and"):
            words.append(word)
        elif words and word == "-" or word == "slash" and words:
            words.append("-" if word == "-" else "/")
        else:
            break
    while words and words[-1] in ("and", "-", "/", "oh", "o"):
        words.pop()
    return (_digits(words), i + len(words)) if words else ("", i)


def _digits(words: list[str]) -> str:
    plain = [w for w in words if w not in ("-", "and")]
    if "/" in plain:
        cut = plain.index("/")
        return f"{_digits(plain[:cut])}/{_digits(plain[cut + 1:])}"
    if len(plain) == 2 and plain[0] in _UNITS and plain[1] in ("aught", "ought"):
        return f"{_UNITS[plain[0]]}/0"
    groups: list[str] = []
    total = 0
    for n, word in enumerate(plain):
        if word == "hundred":
            total = (total or 1) * 100
        elif word == "thousand":
            total = (total or 1) * 1000
        elif word in ("oh", "o", "aught", "ought"):
            groups += [str(total)] if total or not groups else []
            groups.append("0")
            total = 0
        else:
            value = _UNITS.get(word, _TENS.get(word, 0))
            if total and (total < 20 or total % 10 or value >= 20 and total < 100):
                groups.append(str(total))
                total = value
            else:
                total += value
    if total or not groups:
        groups.append(str(total))
    return "".join(groups)
