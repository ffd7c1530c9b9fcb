"""The header fields of a letter or part: read by line, decoded once, never trusted.

Reading follows RFC 5322 section 3.6 with the tolerance of RFC 7103; encoded words are decoded with
the standard library after RFC 2047, in the places where they may stand.
"""

import datetime
import re
from collections.abc import Iterable
from dataclasses import dataclass
from email.errors import HeaderParseError
from email.header import decode_header
from email.message import Message
from email.utils import getaddresses, parsedate_to_datetime

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from helpdesk.mailroom.limits import MAX_ADDRESSES, MAX_VALUE_CHARS
from helpdesk.mailroom.text import clean_line, decode_text

NAME_CHARS = 80
# A run of encoded words; the white space between two of them belongs to neither (section 6.2).
_WORD = r"=\?[^?\s]{1,60}\?[bBqQ]\?[^?\r\n]*\?="
_WORDS = re.compile(rf"{_WORD}(?:\s+{_WORD})*")
_MIME_FIELDS = ("content-type", "content-disposition")
# What the standard library raises on odd parameters.
ODD = (ValueError, LookupError, TypeError, AttributeError, AssertionError, RecursionError)
EARLIEST = datetime.datetime(1990, 1, 1, tzinfo=datetime.UTC)


@dataclass(frozen=True)
class Mailbox:
    """One address with the name beside it, both fit for a row."""

    address: str
    name: str = ""


class Fields:
    """Header fields in their order, with the values unfolded but not decoded."""

    def __init__(self, pairs: Iterable[tuple[str, str]]) -> None:
        """Keep name and value of each field."""
        self.pairs = [(name, value[:MAX_VALUE_CHARS]) for name, value in pairs]
        self._by_name: dict[str, list[str]] = {}
        for name, value in self.pairs:
            self._by_name.setdefault(name.lower(), []).append(value)
        self._mime: Message | None = None

    def get(self, name: str) -> str:
        """Return the first value of a field, or ""."""
        return next(iter(self._by_name.get(name.lower(), ())), "")

    def get_all(self, name: str) -> list[str]:
        """Return every value of a field."""
        return self._by_name.get(name.lower(), [])

    def names(self) -> set[str]:
        """Return the names that stand here, in lower case."""
        return set(self._by_name)

    @property
    def mime(self) -> Message:
        """The type and disposition of the part, as the standard library reads them."""
        if self._mime is None:
            self._mime = Message()
            for name in _MIME_FIELDS:
                if value := self.get(name):
                    self._mime[name] = value
        return self._mime

    @property
    def content_type(self) -> str:
        """The type in lower case; "" where none is said."""
        if not self.get("content-type"):
            return ""
        try:
            return self.mime.get_content_type()
        except ODD:
            return "text/plain"

    def parameter(self, name: str, *, of: str = "content-type") -> str:
        """Return a parameter of the type or disposition, decoded after RFC 2231, or ""."""
        try:
            value = self.mime.get_param(name, header=of)
        except ODD:
            return ""
        if isinstance(value, tuple):  # charset, language, percent-decoded bytes as Latin-1
            charset, _, octets = value
            data = str(octets).encode("latin-1", errors="replace")
            return decode_text(data, charset or "").text
        return str(value) if value else ""

    @property
    def disposition(self) -> str:
        """The disposition: inline, attachment, another word or ""."""
        return self.get("content-disposition").partition(";")[0].strip().lower()

    @property
    def file_name(self) -> str:
        """The file's name as the letter says it, or ""."""
        name = self.parameter("filename", of="content-disposition") or self.parameter("name")
        return decode_words(name)

    @property
    def encoding(self) -> str:
        """The transfer encoding in lower case, without what does not belong there."""
        return self.get("content-transfer-encoding").partition(";")[0].strip().strip('"').lower()


def decode_words(value: str) -> str:
    """Return a value with its encoded words decoded, each once."""
    return _WORDS.sub(lambda run: _decode_run(run[0]), value[:MAX_VALUE_CHARS])


def _decode_run(run: str) -> str:
    try:
        pieces = decode_header(run)
    except (HeaderParseError, ValueError, UnicodeError):
        return run
    return "".join(
        decode_text(piece, charset or "").text if isinstance(piece, bytes) else piece
        for piece, charset in pieces
    )


def line_of(value: str, *, limit: int) -> str:
    """Return a field's value decoded as one clean line."""
    return clean_line(decode_words(value), limit=limit)


def read_mailboxes(values: Iterable[str]) -> list[Mailbox]:
    """Return the mailboxes of address fields; what is none is left out."""
    found: list[Mailbox] = []
    for value in values:
        try:
            pairs = getaddresses([value[:MAX_VALUE_CHARS]])
        except (*ODD, IndexError):
            continue
        for name, address in pairs:
            plain = address.strip()
            if _is_address(plain) and _stands_in(plain, value):
                found.append(Mailbox(plain, clean_line(decode_words(name), limit=NAME_CHARS)))
            if len(found) >= MAX_ADDRESSES:
                return found
    return found


def _is_address(address: str) -> bool:
    try:
        validate_email(address)
    except ValidationError:
        return False
    return len(address) <= 254


def _stands_in(address: str, value: str) -> bool:
    """Return True when an address is written as one.

    The standard library reads "a@one.example)b@two.example" as an address that stands nowhere
    (CVE-2023-27043).
    """
    if f"<{address}>" in value.replace(" ", ""):
        return True
    return any(piece.partition("(")[0].strip() == address for piece in value.split(","))


def read_date(value: str, *, latest: datetime.datetime) -> datetime.datetime | None:
    """Return a Date field as an aware moment, or None when it is none that can be true."""
    try:
        moment = parsedate_to_datetime(value[:200])
    except (*ODD, IndexError, OverflowError):
        return None
    if moment.tzinfo is None:  # "-0000": the sender's zone is unknown (RFC 5322 section 3.3)
        moment = moment.replace(tzinfo=datetime.UTC)
    try:
        return moment if EARLIEST <= moment <= latest else None
    except OverflowError:  # an offset that leads out of the calendar
        return None
