"""Viewer comments: what is asked, what answers it, what is still open."""

from ..record import Episode, Question
from ..trade import Trade
from .comments import Comment


def answer(comments: list[Comment], episode: Episode, trade: Trade) -> list[Question]:
    return [Question(comment_id=c.id, is_question="?" in c.text) for c in comments]
