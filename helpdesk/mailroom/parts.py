"""A letter's bytes as the parts it is made of (RFC 2045, 2046).

Splitting does not recurse and looks at each byte a few times only, so that parts nested a thousand
deep, or fifty thousand of them, cost no more than other bytes. The standard library reads the
fields, parameters and encodings; it is not used to split, for it recurses with every level and
takes about ten times as long on attachments (`tests/benchmarks/bench_mail.py --split`).
"""

import binascii
import re
from dataclasses import dataclass, field

from helpdesk.mailroom.fields import Fields
from helpdesk.mailroom.limits import MAX_DEPTH, MAX_FIELDS, MAX_HEAD_BYTES, MAX_PARTS

LONGEST_BOUNDARY = 998  # RFC 2046 allows 70; a line holds no more than this
IDENTITY = frozenset({"", "7bit", "8bit", "binary"})
KNOWN_ENCODINGS = IDENTITY | {"base64", "quoted-printable"}
LETTER_KINDS = frozenset({"message/rfc822", "message/global", "message/news"})
_FIELD = re.compile(rb"([!-9;-~]+)[ \t]*:")


@dataclass(frozen=True)
class Part:
    """One part that holds no others: its fields, its bytes and where it stands."""

    fields: Fields
    body: bytes = field(repr=False)
    kind: str  # type in lower case, as far as it is believed
    containers: tuple[tuple[str, int], ...]  # type and number of each multipart around it
    letter: int  # 0 in the letter itself, else the number of the attached letter it stands in

    @property
    def alternatives(self) -> int:
        """The number of the innermost multipart/alternative around the part, 0 for none."""
        return next(
            (n for kind, n in reversed(self.containers) if kind == "multipart/alternative"), 0
        )

    @property
    def is_decodable(self) -> bool:
        """Return True when the transfer encoding is one of RFC 2045."""
        return self.fields.encoding in KNOWN_ENCODINGS

    def decode(self) -> bytes:
        """Return the bytes behind the transfer encoding; an unknown one is left as it is."""
        encoding = self.fields.encoding
        if encoding == "base64":
            return decode_base64(self.body)
        if encoding == "quoted-printable":
            return binascii.a2b_qp(self.body)
        return self.body


@dataclass(frozen=True)
class Split:
    """The parts of a letter and the fields of each letter in it; number 0 is the letter itself."""

    parts: tuple[Part, ...]
    letters: tuple[Fields, ...]
    kind: str  # the type of the letter itself
    notes: tuple[str, ...] = ()
    refusal: str = ""  # why it must be looked at by a person, or ""


def decode_base64(data: bytes) -> bytes:
    """Return what base64 text holds; stray characters are passed over, a cut end is left out."""
    try:
        return binascii.a2b_base64(data)
    except binascii.Error:
        plain = re.sub(rb"[^A-Za-z0-9+/]", b"", data)
        whole = plain[: len(plain) // 4 * 4]
        rest = plain[len(whole) :]
        tail = rest + b"=" * (4 - len(rest)) if len(rest) > 1 else b""
        return binascii.a2b_base64(whole + tail)


@dataclass
class _Open:
    """A multipart whose end has not come yet."""

    kind: str
    number: int
    marker: bytes  # two hyphens and the boundary
    letter: int
    letter_depth: int


@dataclass(frozen=True)
class _Delimiter:
    """A boundary line: where it starts and ends, and which open multipart it belongs to."""

    start: int
    end: int
    place: int
    is_last: bool


def split_letter(raw: bytes) -> Split:
    """Return the parts of a letter."""
    if b"\n" not in raw:
        raw = raw.replace(b"\r", b"\n")
    return _Splitter(raw).split()


class _Splitter:
    """Walks once through a letter's bytes with a list of open multiparts instead of recursion."""

    def __init__(self, raw: bytes) -> None:
        """Begin at the letter's first byte."""
        self.raw = raw
        self.open: list[_Open] = []
        self.parts: list[Part] = []
        self.letters: list[Fields] = []
        self.notes: dict[str, None] = {}
        self.numbers = 0
        self.letter = 0
        self.letter_depth = 0
        self.begins_letter = True
        self.is_too_deep = False

    def split(self) -> Split:
        """Return the parts; stops at the limits and says so."""
        refusal = ""
        kind = ""
        at: int | None = 0
        while at is not None:
            if len(self.parts) + self.numbers >= MAX_PARTS:
                refusal = f"It has more than {MAX_PARTS} parts."
                break
            fields, body = self._read_head(at)
            kind_here = self._kind_of(fields)
            kind = kind or kind_here
            if self.begins_letter:
                self.letter = len(self.letters)
                self.letters.append(fields)
                self.begins_letter = False
            at = self._go_on(fields, kind_here, body)
        if self.is_too_deep:
            refusal = refusal or f"Its parts are nested more than {MAX_DEPTH} deep."
        return Split(tuple(self.parts), tuple(self.letters), kind, tuple(self.notes), refusal)

    def _kind_of(self, fields: Fields) -> str:
        """Return a part's type; in a digest the type not said is a letter (RFC 2046 5.1.5)."""
        in_digest = self.open and self.open[-1].kind == "multipart/digest"
        unsaid = "message/rfc822" if in_digest and not self.begins_letter else "text/plain"
        return fields.content_type or unsaid

    def _go_on(self, fields: Fields, kind: str, body: int) -> int | None:
        """Open a multipart or letter, or keep a part; return where the next entity begins."""
        boundary = _boundary_of(fields) if kind.startswith("multipart/") else b""
        is_letter = kind in LETTER_KINDS and fields.encoding in IDENTITY
        if (boundary or is_letter) and len(self.open) + self.letter_depth >= MAX_DEPTH:
            self.is_too_deep = True
        elif boundary:
            self.numbers += 1
            marker = b"--" + boundary
            self.open.append(_Open(kind, self.numbers, marker, self.letter, self.letter_depth))
            delimiter = self._find_delimiter(body)
            if delimiter is not None and delimiter.place == len(self.open) - 1:
                return self._enter_next(delimiter)
            self.open.pop()  # its boundary never comes: what stands there is one text
            self.notes["It announces parts and has none."] = None
            kind = "text/plain"
        elif is_letter:
            self.numbers += 1
            self.letter_depth += 1
            self.begins_letter = True
            return body
        delimiter = self._find_delimiter(body)
        end = len(self.raw) if delimiter is None else self._without_line_end(delimiter.start)
        containers = tuple((each.kind, each.number) for each in self.open)
        content = self.raw[body : max(body, end)]
        self.parts.append(Part(fields, content, kind, containers, self.letter))
        return self._enter_next(delimiter)

    def _enter_next(self, delimiter: _Delimiter | None) -> int | None:
        """Close what a boundary line ends; return where the next part begins, None at the end."""
        while delimiter is not None:
            outer = self.open[delimiter.place]
            self.letter, self.letter_depth = outer.letter, outer.letter_depth
            del self.open[delimiter.place + (not delimiter.is_last) :]
            if not delimiter.is_last:
                return delimiter.end
            delimiter = self._find_delimiter(delimiter.end)
        return None

    def _find_delimiter(self, at: int) -> _Delimiter | None:
        """Return the next line, from the start of one, that is a boundary of an open multipart."""
        places = {each.marker: place for place, each in enumerate(self.open)}
        start = self._find_dashes(at) if places else -1
        while start >= 0:
            end = self._line_end(start)
            line = self.raw[start : min(end, start + LONGEST_BOUNDARY + 8)].rstrip(b" \t\r\n")
            if line in places:
                return _Delimiter(start, end, places[line], is_last=False)
            if line.endswith(b"--") and line[:-2] in places:
                return _Delimiter(start, end, places[line[:-2]], is_last=True)
            start = self._find_dashes(end)
        return None

    def _find_dashes(self, at: int) -> int:
        """Return the start of the next line that begins with two hyphens, -1 for none."""
        if self.raw.startswith(b"--", at):
            return at
        return self.raw.find(b"\n--", at) + 1 or -1

    def _line_end(self, at: int) -> int:
        """Return where the next line begins."""
        return self.raw.find(b"\n", at) + 1 or len(self.raw)

    def _without_line_end(self, at: int) -> int:
        """Return where a body ends: the line end before a boundary belongs to the boundary."""
        if self.raw[at - 2 : at] == b"\r\n":
            return at - 2
        return at - 1 if self.raw[at - 1 : at] == b"\n" else at

    def _read_head(self, at: int) -> tuple[Fields, int]:
        """Return the fields that begin at a place, and where the body begins."""
        markers = {each.marker for each in self.open}
        lines: list[tuple[str, list[bytes]]] = []
        start, limit = at, at + MAX_HEAD_BYTES
        while start < len(self.raw):
            end = self._line_end(start)
            line = self.raw[start:end].rstrip(b"\r\n")
            if not line:
                return _unfold(lines), end
            if _is_marker(line, markers):
                break
            if start >= limit or len(lines) >= MAX_FIELDS:
                self.notes["It has too many header fields; some were not read."] = None
                break
            if line[:1] in b" \t" and lines:
                lines[-1][1].append(line)
            elif found := _FIELD.match(line):
                lines.append((found[1].decode("ascii"), [line[found.end() :]]))
            elif start != at or not line.startswith(b"From "):
                self.notes["Its header ends at a line that is no field."] = None
                break
            start = end
        return _unfold(lines), start


def _is_marker(line: bytes, markers: set[bytes]) -> bool:
    """Return True when a line is a boundary, or the last one, of an open multipart."""
    plain = line.rstrip(b" \t")
    return plain in markers or (plain.endswith(b"--") and plain[:-2] in markers)


def _boundary_of(fields: Fields) -> bytes:
    boundary = fields.parameter("boundary").rstrip()
    data = boundary.encode("utf-8", errors="surrogateescape")
    return data if len(data) <= LONGEST_BOUNDARY else b""


def _unfold(lines: list[tuple[str, list[bytes]]]) -> Fields:
    """Return raw fields as text; bytes above ASCII are UTF-8 (RFC 6532) or Windows-1252."""
    return Fields((name, _as_text(b"".join(pieces).strip())) for name, pieces in lines)


def _as_text(value: bytes) -> str:
    try:
        return value.decode("utf-8")
    except UnicodeDecodeError:
        return value.decode("cp1252", errors="replace")
