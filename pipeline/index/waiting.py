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


def questions(db: sqlite3.Connection, status: str | None = "open", episode: str | None = None, limit: int = 1_000_000) -> tuple[list[list[Asked]], int]:
    """Questions in groups that ask the same, the group that most wait for first, and how many groups there are in all.

    `status` None: all of them; `episode`: those of one episode only; `limit`: at most so many groups.
    """
    where, values = "1", []
    for column, value in (("q.status", status), ("e.id", episode)):
        if value is not None:
            where += f" AND {column} = ?"
            values.append(value)
    joined = "question q JOIN episode e ON e.num = q.episode" if episode is not None else "question q"
    sizes = db.execute(f"SELECT q.alike FROM {joined} WHERE {where} GROUP BY q.alike ORDER BY count(*) DESC, q.alike", values).fetchall()
    groups: dict[int, list[Asked]] = {alike: [] for alike, in sizes[:limit]}
    for start in range(0, len(groups), 500):
        some = list(groups)[start:start + 500]
        for alike, answers, *row in db.execute(f"""
                SELECT q.alike, q.answers, e.id, e.title, q.comment, q.asks, q.status, q.reply FROM question q JOIN episode e ON e.num = q.episode
                WHERE q.alike IN ({",".join(map(str, some))}) AND {where} ORDER BY q.id""", values):
            groups[alike].append(Asked(*row, json.loads(answers)))
    return list(groups.values()), len(sizes)


def question(db: sqlite3.Connection, id: str) -> Asked:
    """The question of an id: EPISODE/COMMENT, or the comment's id alone where only one episode has it. BenchError where there is none."""
    episode, slash, comment = id.partition("/")
    if not slash:
        episode, comment = None, id
    rows = [Asked(*row, json.loads(answers)) for answers, *row in db.execute("""
        SELECT q.answers, e.id, e.title, q.comment, q.asks, q.status, q.reply FROM question q JOIN episode e ON e.num = q.episode
        WHERE q.comment = ? AND e.id = coalesce(?, e.id) ORDER BY q.id""", (comment, episode))]
    if not rows:
        raise BenchError("no such question", id, "see the ids with: sideplate questions --all")
    if len(rows) > 1:
        raise BenchError(f"{len(rows)} episodes have a question of this id", id, f"say which: {' or '.join(q.id for q in rows[:4])}")
    return rows[0]
