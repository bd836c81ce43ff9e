"""Which questions ask the same: by the words that carry their meaning, over all episodes."""

import re
import sqlite3

ALIKE = 0.6     # share of common words from which two questions are one
LEAST = 3       # a question with fewer words that carry meaning says too little to be the same as another episode's
RAREST = 3      # two questions that share 60 % of their words share one of their rarest three (up to seven words)

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


class GroupOf:
    """Finds the group of a new question among those in the index, and enters its words there."""

    def __init__(self, db: sqlite3.Connection):
        self.db = db

    def __call__(self, id: int, asks: str) -> int:
        words = sorted(meaning_words(asks))[:40]
        group = self._nearest(words) if len(words) >= LEAST else None
        self.db.executemany("INSERT INTO question_word VALUES (?, ?)", ((w, id) for w in words))
        return id if group is None else group

    def _nearest(self, words: list[str]) -> int | None:
        marks = ",".join("?" * len(words))
        used = dict(self.db.execute(f"SELECT word, count(*) FROM question_word WHERE word IN ({marks}) GROUP BY word", words))
        rarest = sorted(words, key=lambda w: used.get(w, 0))[:max(RAREST, len(words) - int(ALIKE * len(words)) + 1)]
        few = [w for w in rarest if used.get(w, 0) <= 500]  # a word that hundreds use tells no questions apart
        if not few:
            return None
        rows = self.db.execute(f"""
            WITH near AS (SELECT DISTINCT question FROM question_word WHERE word IN ({",".join("?" * len(few))}))
            SELECT q.alike, sum(w.word IN ({marks})) AS common, count(*) AS own
            FROM near JOIN question_word w USING (question) JOIN question q ON q.id = near.question
            GROUP BY near.question ORDER BY common DESC, own, q.id LIMIT 20""", (*few, *words))
        best = max(((common / (own + len(words) - common), -alike) for alike, common, own in rows), default=(0.0, 0))
        return -best[1] if best[0] >= ALIKE else None
