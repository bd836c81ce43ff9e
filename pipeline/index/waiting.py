"""What viewers still wait for, over all episodes."""

import json
import sqlite3
from dataclasses import dataclass

from ..errors import BenchError


@dataclass(frozen=True)
class Asked:
    """One viewer question. `answers` as in the record: episode, start, end, text, confidence."""

    episode: str
    title: str
    comment: str
    asks: str
    status: str
    reply: str | None
    answers: list[dict]

    @property
    def id(self) -> str:
        return f"{self.episode}/{self.comment}"


def questions(db: sqlite3.Connection, status: str | None = "open", episode: str | None = None) -> list[list[Asked]]:
    """Questions in groups that ask the same, the group that most wait for first. `status` None: all of them."""
    where, values = ["1"], []
    for column, value in (("q.status", status), ("e.id", episode)):
        if value is not None:
            where.append(f"{column} = ?")
            values.append(value)
    groups: dict[int, list[Asked]] = {}
    for alike, answers, *row in db.execute(f"""
            SELECT q.alike, q.answers, e.id, e.title, q.comment, q.asks, q.status, q.reply
            FROM question q JOIN episode e ON e.num = q.episode WHERE {' AND '.join(where)} ORDER BY q.id""", values):
        groups.setdefault(alike, []).append(Asked(*row, json.loads(answers)))
    return sorted(groups.values(), key=len, reverse=True)


def question(db: sqlite3.Connection, id: str) -> Asked:
    """The question of an id: EPISODE/COMMENT, or the comment's id alone where only one episode has it. BenchError where there is none."""
    episode, slash, comment = id.partition("/")
    if not slash:
        episode, comment = None, id
    rows = [q for group in questions(db, None, episode) for q in group if q.comment == comment]
    if not rows:
        raise BenchError("no such question", id, "see the ids with: sideplate questions --all")
    if len(rows) > 1:
        raise BenchError(f"{len(rows)} episodes have a question of this id", id, f"say which: {' or '.join(q.id for q in rows[:4])}")
    return rows[0]
