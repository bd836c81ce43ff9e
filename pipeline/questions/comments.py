"""Viewer comments as they come in: a JSON list or a CSV table."""

import csv
import hashlib
import io
import json
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, StringConstraints, ValidationError

from ..errors import BenchError

LARGEST = 64_000_000  # bytes of a file
MOST = 200_000        # comments of one episode

# What the columns of an export may be called, in lower case and without blanks.
_NAMES = {"id": ("id", "commentid", "comment_id"), "text": ("text", "comment", "body", "message"), "author": ("author", "name", "user", "username"),
          "posted": ("posted", "date", "time", "published", "publishedat"), "likes": ("likes", "likecount", "like_count"),
          "reply_to": ("reply_to", "replyto", "parent", "parentid", "parent_id"), "from_host": ("from_host", "fromhost", "host", "byhost")}

Plain = Annotated[str, BeforeValidator(lambda v: str(v) if isinstance(v, (int, float)) else v)]


class Comment(BaseModel):
    """One comment. `id` is the video host's own, or made from author, date and text where it gave none."""

    model_config = ConfigDict(extra="ignore")
    id: Annotated[Plain, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)]
    text: Annotated[str, StringConstraints(max_length=20_000)]
    author: Annotated[Plain, StringConstraints(max_length=500)] = ""
    posted: Annotated[Plain, StringConstraints(max_length=100)] | None = None
    likes: int | None = None
    reply_to: Plain | None = None
    from_host: bool = False


def load_comments(path: Path) -> list[Comment]:
    """The comments of a file, each once. BenchError with one line that names the entry and what is wrong with it."""
    try:
        with open(path, "rb") as file:
            raw = file.read(LARGEST + 1)
    except OSError as error:
        raise BenchError(f"the comments can't be read ({error.strerror})", path) from None
    if len(raw) > LARGEST:
        raise BenchError(f"too large for comments (over {LARGEST // 1_000_000} MB)", path, "check that it is the right file")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BenchError("not UTF-8 text", path, "save the comments as UTF-8") from None
    rows = _json(text, path) if text.lstrip()[:1] in ("[", "{") else _csv(text, path)
    if len(rows) > MOST:
        raise BenchError(f"more than {MOST} comments", path)
    found: dict[str, Comment] = {}
    for number, row in enumerate(rows, 1):
        try:
            comment = Comment.model_validate(_named(row))
        except ValidationError as error:
            first = error.errors(include_url=False)[0]
            raise BenchError(f"comment {number}: {'.'.join(map(str, first['loc'])) or 'entry'}: {first['msg'][:200]}", path,
                             "a comment has id, text, and may have author, posted, likes, reply_to, from_host") from None
        found[comment.id] = comment
    return list(found.values())


def _json(text: str, path: Path) -> list:
    try:
        rows = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise BenchError(f"not JSON: {str(error)[:200]}", path) from None
    if isinstance(rows, dict):
        rows = rows.get("comments")
    if not isinstance(rows, list):
        raise BenchError("not a list of comments", path, "give a JSON list, or a CSV table with a header")
    return rows


def _csv(text: str, path: Path) -> list[dict]:
    try:
        delimiter = max(",;\t", key=text.partition("\n")[0].count)
        rows = list(csv.DictReader(io.StringIO(text, newline=""), delimiter=delimiter, restkey="_rest", restval=""))
    except csv.Error as error:
        raise BenchError(f"not a CSV table: {error}", path) from None
    if rows and "text" not in _named(rows[0]):
        raise BenchError("no column of this table is called text", path, "name the columns in the first line: id, text, author, posted")
    return [{key: value for key, value in row.items() if key and value not in ("", None)} | {"text": _named(row)["text"]} for row in rows]


def _named(row: object) -> object:
    if not isinstance(row, dict):
        return row
    known = {str(key).lower().replace(" ", ""): value for key, value in row.items() if key is not None}
    named = {field: known[name] for field, names in _NAMES.items() for name in names[::-1] if name in known}
    if named.get("id") in (None, "") and isinstance(named.get("text"), str):
        told = json.dumps([named.get("author"), named.get("posted"), named["text"]], default=str)
        named["id"] = hashlib.sha256(told.encode("utf-8", "replace")).hexdigest()[:12]
    return named
