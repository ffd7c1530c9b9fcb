"""Bytes of a letter to text that a page, a header and a database can hold.

Charsets are believed as far as they can be: an unknown or false one leaves replacement characters
and a note, never an error (RFC 7103 sections 7.6 and 7.7).
"""

import codecs
import re
from dataclasses import dataclass

from helpdesk.core.http import storable

# Python's own codecs that are no charsets of mail; some are slow on purpose-made input.
NO_CHARSETS = frozenset(
    {"idna", "punycode", "unicode-escape", "raw-unicode-escape", "undefined", "utf-7", "mbcs"}
)
PLAIN = frozenset({"", "us-ascii", "ascii", "ansi-x3.4-1968", "unknown-8bit", "default"})
# Marks that turn the reading direction (Unicode UAX 9), and characters that take no room.
_HIDDEN = re.compile(r"[\u200b\u2060-\u2064\u202a-\u202e\u2066-\u2069\ufeff\U000e0000-\U000e007f]")
_HIDDEN_IN_LINES = re.compile(
    r"[\u200b-\u200f\u2060-\u2064\u202a-\u202e\u2066-\u2069\ufeff\U000e0000-\U000e007f]"
)
_BREAKS = re.compile(r"[\s\x00-\x1f\x7f-\x9f\u2028\u2029]+")
_LINE_ENDS = re.compile(r"\r\n?|[\x0b\x0c\x85\u2028\u2029]")
_MANY_BLANK_LINES = re.compile(r"\n[ \t]*(?:\n[ \t]*){3,}")
_C1 = re.compile(r"[\x80-\x9f]")


@dataclass(frozen=True)
class Decoded:
    """A text, and what had to be guessed; "" when nothing had to."""

    text: str
    note: str = ""


def decode_text(data: bytes, charset: str) -> Decoded:
    """Return bytes as text; a charset that is unknown or false is guessed and noted."""
    name = charset.strip().strip("\"'").lower()[:60]
    if name in PLAIN:
        try:
            return Decoded(data.decode("ascii"))
        except UnicodeDecodeError:
            return _guess(data, "It names no charset")
    plain_name = name.replace("_", "-")
    try:
        codec = codecs.lookup(name)
        if plain_name in NO_CHARSETS or codec.name in NO_CHARSETS:
            raise LookupError(name)
        return Decoded(data.decode(codec.name))
    except (LookupError, ValueError) as error:
        wrong = "does not fit" if isinstance(error, UnicodeError) else "is unknown"
        return _guess(data, f"Its charset {clean_line(name, limit=40)} {wrong}")


def _guess(data: bytes, why: str) -> Decoded:
    """Return bytes as UTF-8 if they are, else as the charset most such letters mean."""
    try:
        return Decoded(data.decode("utf-8"), f"{why}; read as UTF-8.")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
        return Decoded(text, f"{why}; read as Windows-1252, some characters may be wrong.")


def clean_text(text: str) -> str:
    """Return a text of several lines without what no page and no database should hold."""
    lines = _LINE_ENDS.sub("\n", text)
    plain = _HIDDEN.sub("", storable(_C1.sub("", lines)))
    return _MANY_BLANK_LINES.sub("\n\n\n", plain).strip()


def has_hidden(text: str) -> bool:
    """Return True when a text holds characters that hide or turn what is read."""
    return bool(_HIDDEN.search(text.strip("\ufeff")))


def clean_line(text: str, *, limit: int) -> str:
    """Return a text as one line fit for a header, a log and a row."""
    line = _BREAKS.sub(" ", _HIDDEN_IN_LINES.sub("", text)).strip()
    return storable(line)[:limit].strip()
