"""Which reels are named: the one on the bench, those the same service covers, and those mentioned in passing.

A model is a name with a number ("Gannet 30", "Pike 610C", "Alder 5/6") or, once its family is known, the number alone
("the forty"). Where the title or the glossary gives a name, what only sounds like it is taken for it.
"""

import re
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from functools import cached_property

from spacy.tokens import Doc, Token

from ..mending.english import commonness
from ..mending.sounds import phrase_sound, sound_distance
from ..record import Reel
from ..trade import data, family_and_number
from .model_numbers import TENS, UNITS, spoken_model
from .reel_title import Model, model_of_title
from .talk import Talk

_NOT_A_MODEL = {"pound", "pounds", "ounce", "ounces", "gram", "grams", "inch", "inches", "mil", "mill", "mm", "millimeter", "millimetre", "millimeters", "thou", "thousandths", "percent", "%", "minutes",
                "minute", "years", "year", "degrees", "screws", "screw", "dollars", "bucks", "weight", "grit", "paper", "foot", "feet", "teeth", "drops", "turns", "to", "by", "times", "or", "bearings", "of", "kit", "dash", "point",
                "hours", "hour", "kilo", "kilos", "kg", "quid", "euro", "euros", "pence", "cents", "left", "deep", "socket", "spanner", "hex", "allen", "torx", "long", "yards", "dogs", "ones", "springs", "pins", "washers", "more", "days", "o'clock", "-"}
_BETWEEN = {"-", "uh", "um", ",", "$"}      # what a hearing may put between a name and its number
_APART = {", the", "size", ", size", "number", ", number", "in"}
_NEAR = 8   # sentences after a reel was introduced in which its sisters are
_HEARD_AS_WORDS = {"won": "1", "too": "2", "to": "2", "for": "4", "ate": "8"}
_PLAIN = 3.3  # Zipf frequency from which a word is plain English, and no maker's name
_OF_A_NAME = {"little", "old", "early", "later", "new", "first", "big", "other", "whole"}
_OWNED = {"the", "my", "his", "her", "their", "your", "our", "that", "this", "those", "'s", "’s", "me", "on", "with", "another"}
# before a bare number: where it is read off, what determines it, where a clause opens with it
_READ = re.compile(r"\b(?:yours|it|foot|plate|side|box|lid|label) (?:says|reads)\s*$")
_DETERMINED = re.compile(r"\b(?<!of )(?:the|a|an|your|both|old|little|big|later|plain|ordinary)(?: number| no\.?)?\s*$")
_OPENS = re.compile(r"(?:^|, |, and |\band )$")
_CORRECTS = {"no", "sorry", "mean", "rather", "correction", "wait"}
_NO_NAMES = {"i", "okay", "ok", "so", "and", "the", "number", "part", "numbers", "about", "another", "hey", "now", "phillips", "over", "under", "only", "all", "like", "torx", "size", "page", "step", "episode", "grade"}
_ALIKE, _ALIKE_OF_A_SISTER, _ALIKE_WITH_ITS_NUMBER, _ALIKE_WHERE_INTRODUCED = 0.3, 0.4, 0.5, 0.6  # how far a wording may sound from a known name, as a share of its length


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


def find_reels(talk: Talk) -> list[Reel]:
    """Every reel model named, once each, with its role and where it was named."""
    return _Search(talk).reels()


@dataclass
class _Search:
    talk: Talk
    _introduced_at: int = 0  # the sentence that first names the bench reel's family

    @cached_property
    def bench(self) -> Model | None:
        return model_of_title(self.talk.title) if self.talk.title else None

    @cached_property
    def families(self) -> dict[str, tuple[str | None, str]]:
        """Known names of model families: their sound, to (maker, family)."""
        known = [(self.bench.maker, self.bench.family)] if self.bench and self.bench.family else []
        for maker, model in self.talk.trade.glossary.models:
            if family := family_and_number(model)[0]:
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
            same = not self._told_apart(places[0]) and any(self._same_service(p) for p in places)
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
        if mine.lower() in UNITS and one.number.isdigit() and int(one.number) < len(UNITS):
            return mine if UNITS[mine.lower()] == int(one.number) else list(UNITS)[int(one.number)].capitalize()
        return re.sub(r"(?<=\d)(?=[A-Z])", " ", one.number) if re.search(r"\d [A-Z]+$", mine) else one.number

    def _number_of_bench(self, said: list[_Said]) -> None:
        """A title that names no number: the first that the host says after the family's name."""
        first = next((s for s in said if s.family == self.bench.family and not s.corrected and s.sentence < self._early), None)
        if first:
            self.bench = Model(self.bench.maker or first.maker, self.bench.family, first.number)

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
                one = self._name_before(doc, i, at, end, number) if number else self._number_as_a_word(doc, i, at)
                if one:
                    found.append(one)
                    counts[one.family] += 1
                    self._correct(found, doc, one)
                at = end if number else at + 1
        return found

    def _name_before(self, doc: Doc, i: int, at: int, end: int, number: str) -> _Said | None:
        if end < len(doc) and doc[end].lower_ in _NOT_A_MODEL:
            return None
        counted = end < len(doc) and doc[end].tag_ == "NNS"  # "sixty compartments"
        first = at
        while first > 0 and doc[first - 1].lower_ in _BETWEEN and at - first < 3:
            first -= 1
        known, own = {**self.families, **self.heard_as}, self.talk.trade.glossary.numbers
        for start, words in _wordings(doc, first):
            heard = phrase_sound(words)
            named = doc[start].text[0].isupper() or start > 0 and (doc[start - 1].tag_ in ("DT", "PRP$") or doc[start - 1].text[0].isupper()) or self.bench and number == self.bench.number
            like = [(" ".join(words) != family.lower(), number not in own.get(family, ()), sound_distance(heard, sound) / len(sound), maker, family) for sound, (maker, family) in known.items()
                    if " ".join(words) == family.lower() or named and not counted and self._sounds_like(heard, sound, family, number)]
            if like:
                *_, maker, family = min(like, key=lambda m: m[:3])
                return _Said(i, start, end, family, number, maker)
            if heard in self.sisters_heard_as and not counted:
                return _Said(i, start, end, self.bench.family, number, self.bench.maker)
        apart = next((n for n in (1, 2) if " ".join(t.lower_ for t in doc[max(0, at - n):at]) in _APART), 0) if not counted else 0
        if apart:
            first = at - apart  # "the Corvane Mistral, the forty"
            for start, words in _wordings(doc, first):
                if own := next(((maker, family) for maker, family in self.families.values() if " ".join(words) == family.lower()), None):
                    return _Said(i, start, end, own[1], number, own[0])
        elif at - first and (doc[first].text == "$" or re.fullmatch(r"(?:19|20)\d\d", number)):
            return None
        names: list[Token] = []
        j = first - 1
        while j >= 0 and len(names) < 3 and _is_name(doc[j], opens=j == 0):
            names.insert(0, doc[j])
            j -= 1
        if not names and not apart:
            return self._lower_case_before(doc, i, first, end, number)
        if not names or apart and (len(names) < 2 or doc[at - 1].lower_ == "number"):
            return None
        if any(self._of_trade(t) for t in names[-1:]) or len(names) == 1 and names[0].text not in self.makers and not self._introduced(doc, j + 1):
            return None
        maker = None
        if len(names) >= 2:
            maker, family = names[0].text, " ".join(t.text for t in names[1:])
        else:
            family = names[0].text
            maker = self._maker_nearby(doc, j + 1, end)
        if names[-1].text.endswith("s") and any(t.lower_ in ("those", "these") for t in doc[max(0, j - 1):j + 1]):
            family = family.removesuffix("s")  # "one of those Corvane Mistrals, the forty"
        if family in self.makers and len(names) == 1:
            maker, family = family, ""
            if not re.search(r"[A-Za-z]", number):
                return None
        return _Said(i, j + 1, end, re.sub(r"['’]s$", "", family), number, maker, 0.75)

    def _number_as_a_word(self, doc: Doc, i: int, at: int) -> _Said | None:
        """"The dipper too is not the same", beside a reel whose number is one digit: the 2."""
        number = _HEARD_AS_WORDS.get(doc[at].lower_)
        if not number or not self.bench or len(self.bench.number) != 1 or number == self.bench.number or i > self._early or not 2 <= at < len(doc) - 1 \
                or doc[at + 1].lower_ not in ("is", "has", "was") or doc[at - 2].lower_ != "the" or not doc[at - 1].is_alpha or doc[at - 1].is_stop or self._of_trade(doc[at - 1]):
            return None
        word = doc[at - 1].text.capitalize()
        own = self._sounds_like(phrase_sound([word.lower()]), phrase_sound(self.bench.family.lower().split()), self.bench.family, number)
        return _Said(i, at - 1, at + 1, self.bench.family if own else word, number, self.bench.maker, 0.5)

    def _lower_case_before(self, doc: Doc, i: int, first: int, end: int, number: str) -> _Said | None:
        """Heard as plain words, and called a reel: "she had an old tamblin cutter six, spinning reel"."""
        if not first or not re.match(data("reels")["called"], doc[end:].text.lower()) or doc[first - 1].is_stop or not doc[first - 1].is_alpha or self._of_trade(doc[first - 1]) \
                or not any(t.tag_ in ("DT", "PRP$") for t in doc[max(0, first - 5):first]):
            return None
        maker = doc[first - 2].text.capitalize() if first > 1 and doc[first - 2].is_alpha and not doc[first - 2].is_stop and commonness(doc[first - 2].lower_) < _PLAIN else None
        return _Said(i, first - 1 - bool(maker), end, doc[first - 1].text.capitalize(), number, maker, 0.5)

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
                if before in _OF_A_NAME and at > 1:  # "the little Piper", "my old Corvane Mistral"
                    before = doc[at - 2].lower_
                own = self.bench and self.bench.family and words[0] == self.bench.family.split()[0]
                near = first is not None and 0 <= i - first <= _NEAR
                if words[0] in self.makers and len(words) > 1 and words[1] not in self.bench_words:
                    found.append(_Said(i, at, end, " ".join(words[1:]), "", words[0], 0.7))
                elif own and len(words) > 1 and words[-1].lower() in varieties and words != self.bench_words:
                    found.append(_Said(i, at, end, " ".join(words), "", self.bench.maker, 0.7))
                elif not own and len(words) in (2, 3) and words[0] not in self.makers and (before in ("a", "an") or before in _OWNED and self._compared(doc, at, end)):
                    if commonness(words[0].lower()) < _PLAIN:
                        found.append(_Said(i, at, end, " ".join(words[1:]), "", words[0], 0.6))
                    elif near:  # "the Marsh Piper": both words are the model's
                        found.append(_Said(i, at, end, " ".join(words), "", self.bench.maker, 0.6))
                elif not own and near and before == "the" and doc[max(0, at - 2)].lower_ not in ("in", "at", "from") and words[0] not in self.makers and words[0].lower() not in varieties and (len(words) == 1 or words[-1].lower() in varieties):
                    found.append(_Said(i, at, end, " ".join(words), "", self.bench.maker if self.bench else None, 0.6))
                at = end
        return found

    @staticmethod
    def _compared(doc: Doc, start: int, end: int) -> bool:
        """Is the named thing owned, worked on, or set against the one on the bench?"""
        text = f"{doc[:start].text.lower()} REEL {doc[end:].text.lower()}"
        return any(re.search(p, text) for p in data("reels")["compared"])

    @cached_property
    def bench_words(self) -> list[str]:
        return self.bench.name.split() if self.bench else []

    def _may_name(self, token: Token) -> bool:
        return token.text[:1].isupper() and token.is_alpha and len(token) > 2 and token.i > 0 and token.lower_ not in _NO_NAMES and not token.is_stop \
            and token.pos_ in ("PROPN", "NOUN") and not self._of_trade(token) and token.lower_ not in UNITS and token.lower_ not in TENS \
            and token.ent_type_ in ("", "ORG", "PERSON", "PRODUCT", "WORK_OF_ART") and token.lower_ not in set(data("reels")["no_models"])

    @cached_property
    def heard_as(self) -> dict[str, tuple[str | None, str]]:
        """What the speech model makes of the bench reel's name: the wording before its number where the host introduces it."""
        nearest = (min(said, key=lambda s: s[2]) for number, _, said in self._introductions if said and number == self.bench.number)
        return {sound: (self.bench.maker, self.bench.family) for _, sound, far in nearest if far <= _ALIKE_WHERE_INTRODUCED}

    @cached_property
    def sisters_heard_as(self) -> set[str]:
        """The sound of wordings that stand for the bench reel's family before a sister's number, where the host introduces them: "the pectoral 3000" beside a Petrel 2500."""
        if self._well_heard:
            return set()
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

    @cached_property
    def _well_heard(self) -> bool:
        """Does the talk have the bench reel's name as it is written, more than once? Then another name is another reel."""
        if not self.bench or not self.bench.family:
            return False
        name = re.compile(rf"\b{re.escape(self.bench.family)}\b", re.IGNORECASE)
        return sum(bool(name.search(d.text)) for d in self.talk.docs) > 1

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
        elif not own and self.talk.trade.glossary.lacks(family, number):
            return False  # "her on one" is no Heron 1 where the shop knows a Heron 12 alone
        else:
            limit = _ALIKE / 2 if own and self._well_heard else _ALIKE
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
        self.bench = Model(best.maker, family, best.number)
        for cached in ("families", "_well_heard", "heard_as", "sisters_heard_as", "_introductions"):
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
        """"If you've got a forty", "the fifty strips the same", "Ten thousand is the same casting": the number alone, once the family is known."""
        if not self.bench or not self.bench.family:
            return []
        known = {s.number for s in said if s.family == self.bench.family} | {self.bench.number}
        taken = {(s.sentence, t) for s in said for t in range(s.start, s.end)}
        self._introduced_at = introduced = min((s.sentence for s in said if s.family == self.bench.family), default=0)
        has = re.compile(rf"(?:{'|'.join(data('reels')['owned'])}) (?:a|an|the|your)\s*$")
        early, found = max(25, len(self.talk.docs) // 6), []
        for i, doc in enumerate(self.talk.docs):
            near = introduced <= i <= introduced + _NEAR and not re.search(r"\b(?:serial|stamp|date|(?:the|what|which) year)", doc.text.lower())
            for token in doc:
                if (i, token.i) in taken or not (spoken_model(doc, token.i)[0] or token.is_upper):  # a variety is capital letters
                    continue
                before = re.sub(r"\$ ?$", "", doc[max(0, token.i - 6):token.i].text.lower())
                owned = _READ.search(before) or has.search(before)
                named = owned or _DETERMINED.search(before)
                if not named and not (near and _OPENS.search(before)):
                    continue
                number, end = self._spoken(doc, token.i, near and bool(named))
                if not number or doc[token.i].lower_ == "one" and end == token.i + 1:
                    continue
                inch = near and doc[end:end + 1].text.lower() == "inch"  # how centrepins are told apart
                after = f"REEL {doc[end + inch:].text.lower()}"
                told_of = near and re.match(data("reels")["opening"], after)
                if not inch and not told_of and end < len(doc) and (doc[end].lower_ in _NOT_A_MODEL or doc[end].pos_ in ("NOUN", "ADJ", "NUM") and doc[end].lower_ not in ("is", "has", "as", "and", "same", "shares", "model") or doc[end].text in ("-", "/")):
                    continue
                sister = near and any(re.match(p, after) for p in data("reels")["sister"])
                told = named and i < early and (owned or self._is_subject(doc, end, near and not re.search(r"\ban?\s*$", before))) or (named or told_of) and (sister or told_of)
                if named and number in known and (near or len(number) > 1) or told and self._alike_number(number):
                    one = _Said(i, token.i, end, self.bench.family, number, self.bench.maker, 0.85 if number in known else 0.6)
                    if number not in known and not re.search(r"\b(?:plain|ordinary)\s*$", before) and self._same_service(one):
                        one.number = self._as_bench(number)
                    found.append(one)
        return found

    def _spoken(self, doc: Doc, at: int, named: bool) -> tuple[str, int]:
        """The number at a token, in full where the bench reel's own says how: beside a reel of 8000 "the six" is 6000, beside a 5600 "the sixty six" is
        6600, beside a 4/0 "the six oh" is 6/0; a variety's letters are those of the bench reel's own number ("the HG model")."""
        mine = self.bench.number
        number, end = spoken_model(doc, at)
        if mine.endswith("/0") and number.isdigit() and doc[end:end + 1].text.lower() in ("oh", "o", "ought", "aught", "nought"):
            return f"{number}/0", end + 1
        if number.isdigit():
            full = [number + "000" if mine.endswith("000") and len(number) <= 2 else "", number + "00" if re.fullmatch(r"[1-9]\d00", mine) and len(number) == 2 else "",
                    number[:-1] + "/0" if mine.endswith("/0") and re.fullmatch(r"[1-9]0", number) else ""]
            if named or number.endswith("0") and len(number) == 2:
                number = next((n for n in full if n and self._alike_number(n)), number)
        elif not number and named and mine.isdigit() and doc[at - 1].lower_ == "the" and re.fullmatch(r"[A-Z]{1,3}", doc[at].text) and doc[at].text not in ("I", "A", "OK", "PTFE", "LED", "CD", "TV"):
            letters, end = doc[at].text, at + 1
            while end < len(doc) and re.fullmatch(r"[A-Z]", doc[end].text) and len(letters) < 3:
                letters, end = letters + doc[end].text, end + 1
            after = f"REEL {doc[end:].text.lower()}"
            if doc[end:end + 1].text in ("model", "version") or any(re.match(p, after) for p in data("reels")["sister"]):
                return mine + letters, end
        return number, end

    def _as_bench(self, number: str) -> str:
        """A sister's number with what the bench reel's own has after its figures: beside a 20LC "the thirty" is the 30LC, beside a 12 Narrow "the sixteen" the 16 Narrow."""
        after = re.match(r"\d+(\s?[A-Za-z]+|-\d)$", self.bench.number)
        return number + after[1] if after and number.isdigit() else number

    def _alike_number(self, number: str) -> bool:
        """A number that a sister of the bench reel may have: as long, within a few times its size; or the bench reel's own, with other letters."""
        mine, other = (re.match(r"(\d+)(?:/0)?(?:-\d|\s?([A-Za-z]*))$", n) for n in (self.bench.number, number))
        if not mine or not other or number == self.bench.number:
            return False
        size, its, lettered = int(mine[1]), int(other[1]), bool(mine[2]) and mine[2] == other[2]
        digits = abs(len(mine[1]) - len(other[1])) <= (lettered or size >= 1000 or its % 10 == 0 and size % 10 == 0 or size <= 10)
        return digits and 0.25 * size <= its <= 4 * size

    @staticmethod
    def _is_subject(doc: Doc, end: int, pauses: bool) -> bool:
        """The number is what the sentence is about: "the fifty has a wider spool"; `pauses`: a comma after it says so too."""
        return doc[end - 1].text.endswith("s") or end < len(doc) and (pauses and doc[end].text == "," or doc[end].lower_ in data("reels")["of_a_reel"])

    def _introduces_sister(self, one: _Said) -> bool:
        """Is it of the bench reel's family, and named not long after that was?"""
        return bool(self.bench) and one.family == self.bench.family and one.sentence <= self._introduced_at + 2 * _NEAR

    def _told_apart(self, one: _Said) -> bool:
        """Does the host say of this reel that it is another matter?"""
        doc = self.talk.docs[one.sentence]
        return not self._introduces_sister(one) and bool(doc._.context & {"past"}) or any(re.search(p, doc.text.lower()) for p in data("reels")["not_same"])

    def _same_service(self, one: _Said) -> bool:
        rules, doc = data("reels"), self.talk.docs[one.sentence]
        text = f"{doc[:one.start].text.lower()} REEL {doc[one.end:].text.lower()}"
        if self._told_apart(one):
            return False
        if any(re.search(p, text) for p in rules["same"]):
            return True
        if self.bench and one.family != self.bench.family:
            return False
        if self._introduces_sister(one) and any(re.search(p, text) for p in rules["alike"]):
            return True
        for later in range(one.sentence, min(one.sentence + 4, len(self.talk.docs))):
            text = self.talk.docs[later].text.lower() if later > one.sentence else doc[one.end:].text.lower()
            if later > one.sentence and any(re.search(p, text) for p in rules["not_same"]):
                return False
            if re.search(r"\bsame one as\b|\bsame kit\b|\bsame .{0,20} as in\b", text):
                continue
            if any(re.search(p, text) for p in rules["same_after"]):
                return True
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
    return (token.text[:1].isupper() and token.is_alpha and len(token) > 2 and token.lower_ not in _NO_NAMES and token.lower_ not in UNITS and token.lower_ not in TENS
            and (token.pos_ == "PROPN" or not opens and token.pos_ in ("NOUN", "ADJ", "VERB")) and not token.is_stop)
