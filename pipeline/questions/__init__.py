"""Viewer comments: what is asked, what answers it, what is still open.

`asking` tells a question from praise, jokes and selling; `wording` brings comments and talk to the same words; `seeking` ranks
the moments that answer; `alike` finds who asks the same. The wordings are in pipeline/trade/questions.toml.
"""

import re

from ..record import Episode, Question
from ..trade import Trade
from .alike import Asking, group
from .asking import LONGEST, Asked, asked, parted, shown
from .comments import Comment
from .cues import wanted
from .meaning import meaning
from .seeking import Found, Seeker, Sought
from .wording import Wording

ANSWERED = 0.4  # chance from which the episode truly answers
AT_ONCE = 64    # comments that the encoder reads together
LITTLE = 1.2    # weight of items below which a question says too little alone
_MEANT = re.compile(r"\b(?:it|they|them|these|those|this|that|one|ones)\b")


def answer(comments: list[Comment], episode: Episode, trade: Trade) -> list[Question]:
    """One Question for each comment, in their order; comments that ask nothing stand there too."""
    if not comments:
        return []
    wording = Wording(trade, (s.text for s in episode.sentences))
    seeker = Seeker(episode, wording)
    replies = {c.reply_to: shown(c.text) for c in reversed(comments) if c.from_host and c.reply_to}
    read = {c.id: asked(c, wording, c.id in replies) for c in comments}
    texts = {c.id: wording.right(shown(c.text[:LONGEST])) for c in comments if read[c.id].is_question}
    sought = {id: _sought(read[id], text, wording, seeker) for id, text in texts.items()}
    found, heard, ids = {}, {}, list(sought)
    for first in range(0, len(ids), AT_ONCE):
        some = ids[first:first + AT_ONCE]
        seeker.hear([text for id in some for s in sought[id] for text in (s.text, s.comment)])
        found |= {id: _find(sought[id], seeker) for id in some}
        heard |= {id: seeker.directions.get(texts[id]) for id in some}
    same = group([Asking(id, all_of[0], meaning(texts[id]), meaning(" ".join(read[id].plain)), seeker.moments(all_of[0]), next(iter(found[id].answers), None), heard[id])
                  for id, all_of in sought.items()])
    found = _shared(found, same)
    return [_question(c.id, read[c.id], same.get(c.id), found.get(c.id, Found()), replies.get(c.id)) for c in comments]


def _shared(found: dict[str, Found], same: dict[str, str]) -> dict[str, Found]:
    """Who asks the same is given the same answers: those of the one whose wording found the surest."""
    best: dict[str, Found] = {}
    for id, mine in found.items():
        first = same.get(id, id)
        if first not in best or mine.answers and mine.chance > best[first].chance:
            best[first] = mine
    return {id: best[same.get(id, id)] for id in found}


def _question(id: str, read: Asked, same_as: str | None, found: Found, reply: str | None) -> Question:
    if not read.is_question:
        return Question(comment_id=id, is_question=False, confidence=round(1 - read.chance, 3))
    answered = bool(reply) or bool(found.answers) and found.chance >= ANSWERED
    return Question(comment_id=id, is_question=True, asks=read.asks, same_as=same_as, status="answered" if answered else "open",
                    answers=found.answers, reply=reply, confidence=round(read.chance, 3))


def _sought(read: Asked, comment: str, wording: Wording, seeker: Seeker) -> list[Sought]:
    """What each question of a comment seeks. One that says little alone ("is that why?") is read with what stands around it."""
    found = []
    for text in read.plain:
        first, rest = parted(text)
        around = f"{rest} {read.around}"
        for wider in (text, f"{read.around} {text}"):
            if wording.telling(first) >= LITTLE and not (_MEANT.search(first) and not wording.parts(wording.items(first, fix=False))):
                break
            first, around = wider, read.around
        items = wording.items(first, fix=False)
        for number, part in seeker.numbers.items():
            if "#" + number in items:
                items["=" + part] = 1.6
        found.append(Sought(first, items, wording.parts(items), wording.heads(items), wanted(first, text, f"{around} {first}"), wording.items(around, fix=False), comment))
    return found


def _find(all_of: list[Sought], seeker: Seeker) -> Found:
    """A comment's answers are those to its first question; where it has none, to the next."""
    first = seeker.find(all_of[0])
    if first.chance >= ANSWERED:
        return first
    return next((found for s in all_of[1:] if (found := seeker.find(s)).chance >= ANSWERED), first)
