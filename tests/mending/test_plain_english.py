"""Ordinary English comes through with next to nothing mended: the dialogues of chatterbot-corpus that the weights were not fitted on."""

from pathlib import Path

import chatterbot_corpus
import yaml

from pipeline.hearing.words import Heard, Word
from pipeline.mending import mend
from pipeline.trade import load_trade

FITTED = {"tech_support", "trivia", "emotion", "ai"}  # as benchmarks/mending.py names them
NO_TALK = {"coding"}
MOST = 1 / 2000  # mends a word


def test_next_to_nothing_is_mended_in_talk_that_is_not_of_the_bench():
    folder = Path(chatterbot_corpus.__file__).parent / "data" / "english"
    talks = [t for f in sorted(folder.glob("*.yml")) if f.stem not in FITTED | NO_TALK for t in yaml.safe_load(f.read_text("utf-8"))["conversations"]]
    texts = [w for talk in talks for line in talk for w in str(line).split()]
    heard = Heard(words=[Word(text=w, start=0.3 * i, end=0.3 * i + 0.3) for i, w in enumerate(texts)], breaks=[0], duration=0.3 * len(texts), source="captions")
    made = [m for s in mend(heard, load_trade()).sentences for m in s.mends if m.applied]
    assert len(texts) > 5000 and len(made) <= MOST * len(texts), made
