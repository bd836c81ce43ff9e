"""Moments over all episodes: by words, reel, part and step."""

import re
import sqlite3
from dataclasses import dataclass

MOST_WORDS = 20
# a finding's own words say more than the talk around it: weights of text, names, steps, facts
WEIGHTS = (1.0, 2.0, 3.0, 2.0)


@dataclass(frozen=True)
class Hit:
    """One moment. `text` is what is said there, `found` the steps and facts there; times in seconds."""

    episode: str
    title: str
    url: str | None
    start: float
    end: float
    text: str
    found: str


def match_of(words: str, part: str | None = None, step: str | None = None) -> str | None:
    """The FTS5 expression: every word must stand there, the last one may be a beginning. None where nothing is asked.

    Whatever was typed, it becomes quoted words only; no operator of the search language gets through.
    """
    wanted = [f'"{w}"' for w in _words(words)]
    if wanted and len(wanted[-1]) > 4:
        wanted[-1] += "*"
    clauses = [" AND ".join(wanted)] if wanted else []
    name, action = _words(part or ""), _words(step or "")
    if name and action:
        # the step is about this part, whatever kind of it ("drag washer": "carbon drag washer" too)
        clauses.append(f'steps : NEAR("{" ".join(action)}" "{" ".join(name)}", 3)')
    elif action:
        clauses.append(f'steps : "{" ".join(action)}"')
    elif name:
        clauses.append(f'{{names steps}} : "{" ".join(name)}"')
    return " AND ".join(f"({c})" for c in clauses) or None


def find(db: sqlite3.Connection, words: str = "", *, reel: str | None = None, part: str | None = None, step: str | None = None,
         limit: int = 20) -> list[Hit]:
    """The moments that fit best, best first; with no words at all, in the order of episodes and time."""
    match, values = match_of(words, part, step), []
    where = ""
    if reel is not None:
        episodes = episodes_of(db, reel)
        if not episodes:
            return []
        where = f" AND m.episode IN ({','.join(map(str, episodes))})"
    if match:
        order = f"bm25(said, {', '.join(map(str, WEIGHTS))})" if _words(words) else "m.id"
        sql = f"SELECT m.id FROM said JOIN moment m ON m.id = said.rowid WHERE said MATCH ?{where} ORDER BY {order} LIMIT ?"
        values = [match, limit]
    elif reel is not None:
        sql, values = f"SELECT m.id FROM moment m WHERE m.steps <> ''{where} ORDER BY m.id LIMIT ?", [limit]
    else:
        return []
    ids = [id for id, in db.execute(sql, values)]
    rows = {row[0]: Hit(*row[1:]) for row in db.execute(
        f"""SELECT m.id, e.id, e.title, e.url, m.start, m.end, m.text,
                   m.steps || CASE WHEN m.steps <> '' AND m.facts <> '' THEN '; ' ELSE '' END || m.facts
            FROM moment m JOIN episode e ON e.num = m.episode WHERE m.id IN ({','.join(map(str, ids))})""")}
    return [rows[id] for id in ids]


def episodes_of(db: sqlite3.Connection, reel: str) -> list[int]:
    """The episodes (their numbers) in which this reel is on the bench or is said to be the same; `reel` is a model, or maker and model."""
    wanted = set(_words(reel))
    rows = db.execute("SELECT DISTINCT episode, coalesce(maker, '') || ' ' || model FROM reel WHERE role <> 'mentioned'")
    return sorted({num for num, name in rows if wanted and wanted <= set(_words(name))})


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W_]+", text.lower())[:MOST_WORDS]
