"""The chain from words to record in one call, without disk: for tests, benchmarks and anyone who has words already."""

from .arranging import arrange
from .hearing.words import Heard
from .mending import mend
from .questions import answer
from .questions.comments import Comment
from .reading import read
from .record import Episode
from .trade import Trade


def record_of(heard: Heard, trade: Trade, *, id: str, title: str = "", url: str | None = None, comments: list[Comment] = ()) -> Episode:
    mended = mend(heard, trade, title)
    findings = read(mended.sentences, trade, title)
    episode = arrange(id, title, url, heard.duration, mended, findings, trade)
    episode.questions = answer(list(comments), episode, trade)
    return episode
