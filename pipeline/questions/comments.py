"""Viewer comments as they come in."""

from pydantic import BaseModel


class Comment(BaseModel):
    id: str
    text: str
    author: str = ""
    posted: str | None = None
    likes: int | None = None
    reply_to: str | None = None
    from_host: bool = False
