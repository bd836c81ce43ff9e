"""Which questions ask the same: by the words that carry their meaning, over all episodes."""

import re
import sqlite3

ALIKE = 0.6     # share of common words from which two questions are one
LEAST = 3       # a question with fewer words that carry meaning says too little to be the same as another episode's
OFTEN = 200     # a word that stands in so many different questions tells none apart

_EMPTY = frozenset("""
a about after all also am an and any anyone anybody are as at be been before but by can cant could did do does doesnt dont for from get
getting go got had has have hello hey hi how i id if ill im in into is isnt it its ive just know like make me mine my need not of on one
ones or our out please so some thank thanks that the their them then there these they thing this those to too up us use used using very
want was way we well were what whats when where wheres which who why will with wont wonder wondering would you your yours
""".split())


def meaning_words(text: str) -> set[str]:
    """The words that carry a question's meaning, without plural endings."""
    words = re.findall(r"[^\W_]+", text.lower().replace("'", "").replace("’", ""))
    return {w[:-1] if len(w) > 3 and w.endswith("s") and not w.endswith("ss") else w for w in words if w not in _EMPTY}


def group_of(db: sqlite3.Connection, asks: str) -> int:
    """The number of what is asked: that of the nearest thing asked before if it is near enough, else a new one."""
    words = sorted(meaning_words(asks))[:40]
    if len(words) >= LEAST and (known := _nearest(db, words)) is not None:
        return known
    new = db.execute("INSERT INTO asked DEFAULT VALUES").lastrowid
    if len(words) >= LEAST:
        db.executemany("INSERT INTO asked_word VALUES (?, ?)", ((w, new) for w in words))
    return new


def _nearest(db: sqlite3.Connection, words: list[str]) -> int | None:
    """By the share of words in common. Two sets that share so much have one of the rarest words of either in common."""
    seen = {w: db.execute("SELECT count(*) FROM (SELECT 1 FROM asked_word WHERE word = ? LIMIT ?)", (w, OFTEN)).fetchone()[0] for w in words}
    rarest = sorted(words, key=seen.__getitem__)[:len(words) - int(ALIKE * len(words)) + 1]
    near = {asked for word in rarest if seen[word] < OFTEN
            for asked, in db.execute("SELECT asked FROM asked_word WHERE word = ?", (word,))}
    best, found = 0.0, None
    for asked in sorted(near):
        own = {w for w, in db.execute("SELECT word FROM asked_word WHERE asked = ?", (asked,))}
        shared = len(own.intersection(words))
        alike = shared / (len(own) + len(words) - shared)
        if alike >= max(ALIKE, best + 1e-9):
            best, found = alike, asked
    return found
