"""shop.db: what every episode says, where, in tables that answer at once."""

import json
import sqlite3
from bisect import bisect_right
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from pydantic import ValidationError

from ..errors import BenchError
from ..record import Episode, Fact, Reel
from ..settings import plain_reason
from ..bounded import read_bounded
from ..shop import EpisodeFolder, Shop
from .sameness import group_of

VERSION = 1  # of the tables below; shop.db of another version is made again from the records
LARGEST_RECORD = 64 * 1024 * 1024

TABLES = """
CREATE TABLE episode (
  num INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE, title TEXT NOT NULL, url TEXT, duration REAL NOT NULL,
  stamp TEXT NOT NULL,                   -- size and time of change of the record that stands here
  first_moment INTEGER, last_moment INTEGER
);
CREATE TABLE reel (
  episode INTEGER NOT NULL REFERENCES episode ON DELETE CASCADE, maker TEXT, model TEXT NOT NULL, role TEXT NOT NULL,
  start REAL,                            -- first moment that names it
  why TEXT, why_start REAL               -- for same_service: what the host says the two share, and when
);
CREATE INDEX reel_of_episode ON reel (episode);
CREATE INDEX reel_of_model ON reel (model, maker);
CREATE TABLE moment (                    -- a sentence, with what was found in it
  id INTEGER PRIMARY KEY, episode INTEGER NOT NULL REFERENCES episode ON DELETE CASCADE, start REAL NOT NULL, end REAL NOT NULL,
  text TEXT NOT NULL,                    -- as spoken, mended
  names TEXT NOT NULL,                   -- parts, tools and supplies: "drag washer; tweezers"
  steps TEXT NOT NULL,                   -- action and part: "remove drag washer"
  facts TEXT NOT NULL                    -- kind, text and value
);
CREATE INDEX moment_of_episode ON moment (episode);
CREATE VIRTUAL TABLE said USING fts5 (
  text, names, steps, facts, content='moment', content_rowid='id', tokenize="porter unicode61 remove_diacritics 2"
);
CREATE TABLE question (
  id INTEGER PRIMARY KEY, episode INTEGER NOT NULL REFERENCES episode ON DELETE CASCADE, comment TEXT NOT NULL, asks TEXT NOT NULL,
  status TEXT NOT NULL, same_as TEXT, reply TEXT, answers TEXT NOT NULL,  -- answers: JSON as in the record
  alike INTEGER NOT NULL REFERENCES asked,
  UNIQUE (episode, comment)
);
CREATE INDEX question_waiting ON question (status, alike);
CREATE INDEX question_alike ON question (alike);
CREATE INDEX question_comment ON question (comment);
CREATE TABLE asked (id INTEGER PRIMARY KEY);  -- once for all questions that ask the same
CREATE TABLE asked_word (
  word TEXT NOT NULL, asked INTEGER NOT NULL REFERENCES asked ON DELETE CASCADE, PRIMARY KEY (word, asked)
) WITHOUT ROWID;
CREATE INDEX asked_word_of ON asked_word (asked);
"""


@contextmanager
def reading(shop: Shop) -> Iterator[sqlite3.Connection]:
    """The index, up to date enough to answer from: made again first where it is missing, of another version or damaged."""
    try:
        db = connect(shop.database) if shop.database.exists() else None
        if db and not _fits(db, shop):
            db.close()
            db = None
    except sqlite3.DatabaseError:
        db = None
    if db is None:
        with shop.writing("making the index"):
            sync(shop)
        db = connect(shop.database)
    with closing(db):
        yield db


def sync(shop: Shop, progress: Callable[[int, int], None] | None = None) -> list[str]:
    """Bring shop.db up to what the records say, in one transaction. The caller holds the shop. Returns the ids that changed.

    `progress(done, all)` counts episodes.
    """
    db = open_for_writing(shop.database)
    with closing(db):
        known = {id: (num, stamp) for id, num, stamp in db.execute("SELECT id, num, stamp FROM episode")}
        records = {e.id: (e, stamp) for e in shop.episodes() if (stamp := _stamp(e)) is not None}
        gone = [id for id in known if id not in records]
        changed = [(e, stamp) for id, (e, stamp) in records.items() if id not in known or known[id][1] != stamp]
        with db:
            db.execute("BEGIN IMMEDIATE")
            for id in (*gone, *(e.id for e, _ in changed if e.id in known)):
                _remove(db, known[id][0])
            for done, (folder, stamp) in enumerate(changed):
                put(db, read_record(folder), stamp)
                if progress:
                    progress(done + 1, len(changed))
            db.execute("DELETE FROM asked WHERE id NOT IN (SELECT alike FROM question)")
        return [*gone, *(e.id for e, _ in changed)]


def put(db: sqlite3.Connection, episode: Episode, stamp: str) -> None:
    """Put one record that is not there yet into the tables; the caller commits."""
    num = db.execute("INSERT INTO episode (id, title, url, duration, stamp) VALUES (?, ?, ?, ?, ?)",
                     (episode.id, episode.title, episode.url, episode.duration, stamp)).lastrowid
    for reel in episode.reels:
        fact = _why_same(reel, episode.facts) if reel.role == "same_service" else None
        db.execute("INSERT INTO reel VALUES (?, ?, ?, ?, ?, ?, ?)",
                   (num, reel.maker, reel.model, reel.role, reel.at[0][0] if reel.at else None, fact and fact.text, fact and fact.start))
    moments = _moments(episode)
    first = db.execute("SELECT coalesce(max(id), 0) + 1 FROM moment").fetchone()[0]
    db.execute("UPDATE episode SET first_moment = ?, last_moment = ? WHERE num = ?", (first, first + len(moments) - 1, num))
    db.executemany("INSERT INTO moment VALUES (?, ?, ?, ?, ?, ?, ?, ?)", ((first + i, num, *m) for i, m in enumerate(moments)))
    db.executemany("INSERT INTO said (rowid, text, names, steps, facts) VALUES (?, ?, ?, ?, ?)", ((first + i, *m[2:]) for i, m in enumerate(moments)))
    groups: dict[str, int] = {}
    for q in episode.questions:
        if not q.is_question:
            continue
        asks = " / ".join(q.asks)
        groups[q.comment_id] = alike = groups[q.same_as] if q.same_as in groups else group_of(db, asks)
        db.execute("INSERT INTO question (episode, comment, asks, status, same_as, reply, answers, alike) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                   (num, q.comment_id, asks, q.status, q.same_as, q.reply, json.dumps([a.model_dump() for a in q.answers]), alike))


def read_record(folder: EpisodeFolder) -> Episode:
    """The published record of an episode. BenchError where it is not one."""
    try:
        return Episode.model_validate_json(read_bounded(folder.record, LARGEST_RECORD))
    except ValidationError as error:
        raise BenchError(plain_reason(error, Episode), folder.record, f"make it again with: sideplate redo {folder.id}") from None


def _moments(episode: Episode) -> list[tuple[float, float, str, str, str, str]]:
    """(start, end, text, names, steps, facts) of each sentence; a finding stands with its first sentence, else with the one spoken then."""
    place = {s.id: i for i, s in enumerate(episode.sentences)}
    starts = [s.start for s in episode.sentences]
    names, steps, facts = ([[] for _ in starts] for _ in range(3))

    def put(row: list[list[str]], text: str, ids: list[str], moment: float | None) -> None:
        i = next((place[s] for s in ids if s in place), None)
        if i is None and moment is not None:
            i = max(0, bisect_right(starts, moment) - 1)
        if i is not None and i < len(row) and text not in row[i]:
            row[i].append(text)

    for thing in (*episode.parts, *episode.tools, *episode.supplies):
        for n in range(max(len(thing.at), len(thing.sentences))):
            put(names, thing.name, thing.sentences[n:n + 1], thing.at[n][0] if n < len(thing.at) else None)
    for step in episode.steps:
        put(steps, f"{step.do} {step.part}", step.sentences[:1], step.start)
    for fact in episode.facts:
        put(facts, " ".join(filter(None, (fact.kind.replace("_", " "), fact.text, fact.value))), fact.sentences[:1], fact.start)
    return [(s.start, s.end, s.text, "; ".join(names[i]), "; ".join(steps[i]), "; ".join(facts[i])) for i, s in enumerate(episode.sentences)]


def _why_same(reel: Reel, facts: list[Fact]) -> Fact | None:
    """The interchange fact that names the reel, or the one said nearest to its name."""
    shared = [f for f in facts if f.kind == "interchange"]
    moments = [start for start, _ in reel.at] or [0.0]
    away = lambda f: min(abs(f.start - m) for m in moments)
    named = [f for f in shared if reel.model.lower() in f.text.lower() or set(f.sentences) & set(reel.sentences)]
    near = [f for f in shared if away(f) <= 60]
    return min(named or near, key=away, default=None)


def _stamp(folder: EpisodeFolder) -> str | None:
    try:
        stat = folder.record.stat()
    except OSError:
        return None
    return f"{stat.st_size}:{stat.st_mtime_ns}"


def _fits(db: sqlite3.Connection, shop: Shop) -> bool:
    if db.execute("PRAGMA user_version").fetchone()[0] != VERSION:
        return False
    known = {id for id, in db.execute("SELECT id FROM episode")}
    found = shop.root / "episodes"
    there = {p.name for p in found.iterdir()} if found.is_dir() else set()
    return known <= there and not any((found / id / "out" / "episode.json").exists() for id in there - known)


def connect(path: Path) -> sqlite3.Connection:
    # a URI with a quoted path: the folder's name comes from outside and may hold ? or #
    db = sqlite3.connect(f"{path.absolute().as_uri()}?mode=rwc", uri=True, timeout=10, isolation_level=None)
    db.execute("PRAGMA foreign_keys = ON")
    return db


def open_for_writing(path: Path) -> sqlite3.Connection:
    try:
        db = connect(path)
        if db.execute("PRAGMA user_version").fetchone()[0] == VERSION:
            return db
        db.close()
    except sqlite3.DatabaseError as error:
        if isinstance(error, sqlite3.OperationalError):
            raise
    for ending in ("", "-wal", "-shm"):  # nothing here that the records don't hold
        path.with_name(path.name + ending).unlink(missing_ok=True)
    db = connect(path)
    db.execute("PRAGMA journal_mode = WAL")
    db.executescript(f"BEGIN; {TABLES} PRAGMA user_version = {VERSION}; COMMIT;")
    return db


def _remove(db: sqlite3.Connection, num: int) -> None:
    # an external-content table must be told what goes
    db.execute("INSERT INTO said (said, rowid, text, names, steps, facts) "
               "SELECT 'delete', id, text, names, steps, facts FROM moment WHERE episode = ?", (num,))
    db.execute("DELETE FROM moment WHERE episode = ?", (num,))
    db.execute("DELETE FROM episode WHERE num = ?", (num,))
