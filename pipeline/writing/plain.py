"""Plain text on its way into a file: cleaned, timed, and escaped for the place where it will stand."""

import re
import unicodedata
from functools import lru_cache
from urllib.parse import quote, urlsplit, urlunsplit

_MARKDOWN = re.compile(r"([\\`*_\[\]<>|#~!])")
_REORDERS = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff"
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")


@lru_cache(maxsize=8192)
def clean(text: str) -> str:
    """One line of text: white space to single spaces, control characters, stray surrogates and bidirectional overrides gone.

    Right-to-left text itself stays; only the marks that could reorder what stands around it go.
    """
    kept = (" " if unicodedata.category(c) in ("Zl", "Zp") or c.isspace() else c for c in text)
    return " ".join("".join(c for c in kept if unicodedata.category(c) not in ("Cc", "Cs", "Cn", "Co") and c not in _REORDERS).split())


def shorten(text: str, length: int) -> str:
    """At most `length` characters, cut at a word where one ends not too early, with an ellipsis."""
    if len(text) <= length:
        return text
    cut = text[: length - 1]
    at = cut.rfind(" ")
    return (cut[:at] if at > length // 2 else cut).rstrip(" ,;:-") + "…"


def clock(seconds: float) -> str:
    """m:ss below an hour, h:mm:ss from there on; the second that has begun, so that a link never lands late."""
    whole = int(seconds)
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def timestamp(seconds: float, comma: bool = False, digits: int = 3) -> str:
    """hh:mm:ss.mmm, as caption files and Matroska want it."""
    ticks = round(seconds * 10**digits)
    whole, part = divmod(ticks, 10**digits)
    return f"{whole // 3600:02}:{whole // 60 % 60:02}:{whole % 60:02}{',' if comma else '.'}{part:0{digits}}"


def web_address(url: str | None) -> str | None:
    """The address if it is one that a page may link to (http or https, with a host), else None. What may not stand in one is escaped."""
    if not url or len(url) > 2000:
        return None
    try:
        parts = urlsplit(clean(url))
    except ValueError:
        return None
    if parts.scheme not in ("http", "https") or not parts.hostname or re.search(r"[\s<>\"'`{}|\\^]", parts.netloc):
        return None
    return urlunsplit((parts.scheme, parts.netloc, *(quote(part, safe="%/:;=&?@!$'()*+,~") for part in parts[2:])))


def moment_link(url: str | None, seconds: float, parameter: str) -> str | None:
    """A link into the footage; None where the episode has no address on the web."""
    address = web_address(url)
    if address is None:
        return None
    parts, said = urlsplit(address), parameter.replace("{seconds}", str(int(seconds)))
    if said.startswith("#"):
        return urlunsplit(parts._replace(fragment=said[1:]))
    return urlunsplit(parts._replace(query="&".join(filter(None, (parts.query, said)))))


def markdown(text: str) -> str:
    """Text that a Markdown reader shows as it stands: no markup, no HTML, no table cell broken."""
    text = _MARKDOWN.sub(r"\\\1", clean(text).replace("&", "&amp;"))
    text = re.sub(r"^(\d+)([.)])", r"\1\\\2", text)
    return re.sub(r"^([-+=])", r"\\\1", re.sub(r"(?i)\b(https?|ftp|www)(:|\.)", r"\1\\\2", text))


def cell(text: object) -> str:
    """Text for a spreadsheet cell: what a spreadsheet would take for a formula gets an apostrophe before it."""
    said = clean(str(text)) if text is not None else ""
    return "'" + said if said.startswith(_FORMULA) else said
