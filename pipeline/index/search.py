"""Moments over all episodes: by words, reel, part and step."""

import re
import sqlite3
from dataclasses import dataclass

MOST_WORDS = 20
# Where all the words stand, and what that is worth: a finding's own words say more than the talk around it.
WORTH = {"steps": 3.0, "facts": 2.0, "names": 2.0, "text": 1.0, "": 0.5}
# Moments looked at in each of these places, the newest first. All words must stand there, so that their rarity tells
# nothing; and ranking every moment that says "drag" would take seconds in a large shop.
LOOKED_AT = 300
WINDOW = 200_000  # moments, the newest, that are looked at first
EPISODES_LOOKED_AT = 300  # of one reel


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


def find(db: sqlite3.Connection, words: str = "", *, reel: str | None = None, part: str | None = None, step: str | None = None,
         limit: int = 20) -> list[Hit]:
    """The moments that have it all: those whose findings say so before those where it was only spoken, then the newest.

    Whatever was typed, it becomes quoted words only; no operator of the search language gets through.
    """
    spoken, found = _expression(words, part, step)
    if not spoken and not found and reel is None:
        return []
    if not spoken and not found:
        ids = [id for first, last in _ranges_of(db, reel) for id, in db.execute(
            "SELECT id FROM moment WHERE id BETWEEN ? AND ? AND steps <> '' LIMIT ?", (first, last, limit))]
        return _hits(db, ids[:limit])
    worth: dict[int, float] = {}
    for ranges in _windows(db) if reel is None else [_ranges_of(db, reel)]:
        for place, value in WORTH.items() if spoken else [("", 0.0)]:
            words_here = f"({place} : ({spoken}))" if place else f"({spoken})" if spoken else ""
            match = " AND ".join(filter(None, (words_here, found)))
            for first, last in ranges:
                for id, in db.execute("SELECT rowid FROM said WHERE said MATCH ? AND rowid BETWEEN ? AND ? ORDER BY rowid DESC LIMIT ?",
                                      (match, first, last, max(limit, LOOKED_AT))):
                    worth[id] = worth.get(id, 0.0) + value
        if len(worth) >= max(limit, LOOKED_AT):
            break
    return _hits(db, sorted(worth, key=lambda id: (-worth[id], -id))[:limit])


def _windows(db: sqlite3.Connection) -> list[list[tuple[int, int]]]:
    """The shop's moments in two goes: those of the newest thousand or so episodes, then, if that was not enough, the rest."""
    last = db.execute("SELECT coalesce(max(id), 0) FROM moment").fetchone()[0]
    return [[(last - WINDOW, last)], [(0, last - WINDOW - 1)]] if last > WINDOW else [[(0, last)]]


def _expression(words: str, part: str | None, step: str | None) -> tuple[str, str]:
    """FTS5 expressions for the words (the last of them may be a beginning), and for part and step."""
    wanted = [f'"{w}"' for w in _words(words)]
    if wanted and len(wanted[-1]) > 4:
        wanted[-1] += "*"
    name, action = " ".join(_words(part or "")), " ".join(_words(step or ""))
    if name and action:
        # the step is about this part, whatever kind of it ("drag washer": "carbon drag washer" too)
        found = f'(steps : NEAR("{action}" "{name}", 3))'
    elif action:
        found = f'(steps : "{action}")'
    else:
        found = f'({{names steps}} : "{name}")' if name else ""
    return " AND ".join(wanted), found


def _ranges_of(db: sqlite3.Connection, reel: str) -> list[tuple[int, int]]:
    """First and last moment of each episode that has this reel on the bench or says that it is the same, newest first."""
    wanted = set(_words(reel))
    rows = db.execute("SELECT DISTINCT maker, model FROM reel WHERE role <> 'mentioned'")
    models = [(maker, model) for maker, model in rows if wanted and wanted <= set(_words(f"{maker or ''} {model}"))]
    found = {row for maker, model in models for row in db.execute("""
        SELECT e.first_moment, e.last_moment FROM reel r JOIN episode e ON e.num = r.episode
        WHERE r.model = ? AND r.maker IS ? AND r.role <> 'mentioned'""", (model, maker))}
    return sorted(found, reverse=True)[:EPISODES_LOOKED_AT]


def _hits(db: sqlite3.Connection, ids: list[int]) -> list[Hit]:
    rows = {row[0]: Hit(*row[1:]) for row in db.execute(f"""
        SELECT m.id, e.id, e.title, e.url, m.start, m.end, m.text,
               m.steps || CASE WHEN m.steps <> '' AND m.facts <> '' THEN '; ' ELSE '' END || m.facts
        FROM moment m JOIN episode e ON e.num = m.episode WHERE m.id IN ({','.join(map(str, ids))})""")}
    return [rows[id] for id in ids]


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W_]+", text.lower())[:MOST_WORDS]
