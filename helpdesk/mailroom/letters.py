"""One letter, read: who wrote what, what goes with it, and what a reviewer should know of it.

`read_letter` takes bytes and returns plain values. It never follows what a letter points to, and
nothing in it raises for what somebody sent: what cannot be read is said in `notes` or `refusal`.
"""

import datetime
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

from helpdesk.core import clock
from helpdesk.incoming.markup import text_of_markup
from helpdesk.mailroom.automatic import Automatic, tell_automatic
from helpdesk.mailroom.bounces import FailedDelivery, read_failures
from helpdesk.mailroom.fields import Fields, Mailbox, line_of, read_date, read_mailboxes
from helpdesk.mailroom.files import LetterFile, sort_files
from helpdesk.mailroom.forwards import Forwarded, find_forwarded
from helpdesk.mailroom.limits import (
    MAX_BYTES,
    MAX_BYTES_WORDS,
    MAX_TEXT_CHARS,
    MAX_WORDS_CHARS,
)
from helpdesk.mailroom.parts import Part, Split, split_letter
from helpdesk.mailroom.quotes import fold
from helpdesk.mailroom.text import clean_text, decode_text, has_hidden
from helpdesk.outbox.threads import find_ids

SUBJECT_CHARS = 200
SHOWN_CHARS = 500
MOST_SHOWN = 60
MOST_NOTES = 20
DATE_ROOM = datetime.timedelta(days=2)
# Fields that stand once in a letter (RFC 5322 section 3.6); twice means somebody tampered.
ONCE = ("From", "Subject", "Date", "Message-ID")
RECIPIENTS = ("to", "cc", "delivered-to", "x-original-to", "envelope-to")
# What a reviewer is shown of the header.
SHOWN = frozenset(
    {"from", "sender", "reply-to", *RECIPIENTS, "subject", "date", "message-id", "in-reply-to"}
    | {"references", "return-path", "auto-submitted", "precedence", "list-id", "x-loop"}
)


@dataclass(frozen=True, kw_only=True)
class Letter:
    """A letter as the desk reads it."""

    message_id: str
    has_own_id: bool
    earlier_ids: tuple[str, ...]
    sender: Mailbox | None
    reply_to: Mailbox | None
    recipients: tuple[str, ...]
    subject: str
    sent_at: datetime.datetime | None
    text: str
    words: str
    files: tuple[LetterFile, ...]
    forwarded: Forwarded | None
    automatic: Automatic | None
    failures: tuple[FailedDelivery, ...]
    doubled: tuple[str, ...]
    notes: tuple[str, ...]
    refusal: str
    shown: tuple[tuple[str, str], ...]
    content_sha256: str

    @property
    def answer_address(self) -> str:
        """The address a person asks to be answered at (RFC 5322 section 3.6.2), or ""."""
        mailbox = self.reply_to or self.sender
        return mailbox.address if mailbox else ""


def read_letter(raw: bytes) -> Letter:
    """Return what a letter says."""
    if len(raw) > MAX_BYTES:
        return _read(raw[:1024], f"It is larger than {MAX_BYTES_WORDS}.")
    return _read(raw, "" if raw.strip() else "It is empty.")


def _read(raw: bytes, refusal: str) -> Letter:
    split = split_letter(raw)
    fields = split.letters[0] if split.letters else Fields(())
    notes = dict.fromkeys(split.notes)
    subject = line_of(fields.get("subject"), limit=SUBJECT_CHARS)
    text = _text_of(split, 0, notes)
    forwarded = _find_forwarded(split, text, subject, notes)
    words = _words_of(text, forwarded)
    if len(words) > MAX_WORDS_CHARS:
        words = words[:MAX_WORDS_CHARS].rstrip() + "…"
        notes["Its words are very long; the case has their beginning."] = None
    sorted_files = sort_files(_file_parts(split, with_attached=forwarded is not None))
    notes |= dict.fromkeys(sorted_files.notes)
    own_ids = find_ids(line_of(fields.get("message-id"), limit=998))
    senders = read_mailboxes(fields.get_all("from"))
    doubled = tuple(name for name in ONCE if len(fields.get_all(name)) > 1)
    if doubled:
        notes[f"It has more than one {' and '.join(doubled)}; none is believed."] = None
    if len(senders) > 1:
        notes["It names several senders; the first is taken."] = None
    sent_at = read_date(fields.get("date"), latest=clock.now() + DATE_ROOM)
    if sent_at is None and fields.get("date"):
        notes["Its date cannot be true and is left out."] = None
    if not own_ids:
        notes["It has no Message-ID; one was made up from its content."] = None
    digest = hashlib.sha256(raw).hexdigest()
    return Letter(
        message_id=own_ids[0] if own_ids else f"<{digest[:40]}@letter.invalid>",
        has_own_id=bool(own_ids),
        earlier_ids=_earlier_ids(fields),
        sender=senders[0] if senders else None,
        reply_to=next(iter(read_mailboxes(fields.get_all("reply-to"))), None),
        recipients=tuple(
            mailbox.address
            for name in RECIPIENTS
            for mailbox in read_mailboxes(fields.get_all(name))
        ),
        subject=subject,
        sent_at=sent_at,
        text=text,
        words=words,
        files=sorted_files.files,
        forwarded=forwarded,
        automatic=tell_automatic(fields, split),
        failures=read_failures(split),
        doubled=doubled,
        notes=tuple(notes)[:MOST_NOTES],
        refusal=refusal or split.refusal,
        shown=_shown(fields),
        content_sha256=_content_sum(fields, text, sorted_files.files),
    )


def _earlier_ids(fields: Fields) -> tuple[str, ...]:
    """Return the ids a letter answers: the one it names first, then the latest of its thread."""
    first = find_ids(" ".join(fields.get_all("in-reply-to")))
    thread = find_ids(" ".join(fields.get_all("references")))
    return tuple(dict.fromkeys([*first, *reversed(thread)]))[:40]


def _text_of(split: Split, letter: int, notes: dict[str, None]) -> str:
    """Return the words of one of the letters: plain parts first, else the marked-up ones."""
    parts = [part for part in split.parts if part.letter == letter and _is_words(part)]
    has_plain = {
        part.alternatives for part in parts if part.kind != "text/html" and part.body.strip()
    }
    pieces = []
    for part in parts:
        if part.kind == "text/html" and part.alternatives and part.alternatives in has_plain:
            continue
        if piece := _piece_of(part, notes):
            pieces.append(piece)
    whole = "\n\n".join(pieces)
    if has_hidden(whole):
        notes["Characters that hide or turn the text were taken out."] = None
    if len(whole) > MAX_TEXT_CHARS:
        notes["Its text is very long and was cut; the letter itself has all of it."] = None
    return clean_text(whole[:MAX_TEXT_CHARS])


def _piece_of(part: Part, notes: dict[str, None]) -> str:
    """Return the text of one part."""
    if not part.is_decodable:
        notes["Its text is encoded in a way no standard names and was not read."] = None
        return ""
    decoded = decode_text(part.decode(), part.fields.parameter("charset"))
    if decoded.note:
        notes[decoded.note] = None
    if part.kind == "text/html":
        return text_of_markup(clean_text(decoded.text))
    if part.fields.parameter("format").lower() == "flowed":
        return unflow(decoded.text, deletes_space=part.fields.parameter("delsp").lower() == "yes")
    return decoded.text


def unflow(text: str, *, deletes_space: bool) -> str:
    """Return a text of flowing lines (RFC 3676 section 4) with its paragraphs in one line each."""
    lines: list[str] = []
    flows = False
    depth = 0
    for line in text.replace("\r\n", "\n").split("\n"):
        marks = len(line) - len(line.lstrip(">"))
        content = line[marks:].removeprefix(" ")
        is_separator = content == "-- "
        if flows and marks == depth and not is_separator:
            lines[-1] += content
        else:
            lines.append((">" * marks + " " if marks else "") + content)
        flows = content.endswith(" ") and not is_separator
        depth = marks
        if flows and deletes_space:
            lines[-1] = lines[-1][:-1]
    return "\n".join(lines)


def _is_words(part: Part) -> bool:
    """Return True for a part that is read as words, not kept as a file."""
    if part.kind not in {"text/plain", "text/html", "text/enriched"}:
        return False
    return part.fields.disposition != "attachment" and not part.fields.file_name


def _file_parts(split: Split, *, with_attached: bool) -> Sequence[Part]:
    """Return the parts that may be files; those of an attached letter only when it is passed on."""
    return [
        part
        for part in split.parts
        if (part.letter == 0 or with_attached) and not _is_words(part) and not _is_other_view(part)
    ]


def _is_other_view(part: Part) -> bool:
    """Return True for another view of the same words, such as a calendar or a styled text."""
    inner = part.containers[-1][0] if part.containers else ""
    return inner == "multipart/alternative" and part.kind.startswith("text/")


def _find_forwarded(
    split: Split, text: str, subject: str, notes: dict[str, None]
) -> Forwarded | None:
    """Return the letter passed on, attached or within the text."""
    if len(split.letters) > 1 and split.kind != "multipart/report":
        inner = split.letters[1]
        author = next(iter(read_mailboxes(inner.get_all("from"))), Mailbox(""))
        return Forwarded(author, _text_of(split, 1, notes), text)
    return find_forwarded(text, subject=subject)


def _words_of(text: str, forwarded: Forwarded | None) -> str:
    """Return what a letter says anew, with what it passes on below the words of who does."""
    if forwarded is None:
        return fold(text).words
    comment, words = fold(forwarded.comment).words, fold(forwarded.words).words
    return "\n\n".join(piece for piece in (comment, words or forwarded.words) if piece)


def _shown(fields: Fields) -> tuple[tuple[str, str], ...]:
    """Return the fields that matter to a reviewer, decoded, every one of a doubled field."""
    found = [
        (name[:60], line_of(value, limit=SHOWN_CHARS))
        for name, value in fields.pairs
        if name.lower() in SHOWN
    ]
    return tuple(found[:MOST_SHOWN])


def _content_sum(fields: Fields, text: str, files: Sequence[LetterFile]) -> str:
    """Return what stays the same when one letter arrives by two ways: its words and files."""
    total = hashlib.sha256()
    for piece in (*(fields.get(name) for name in ONCE), text):
        total.update(piece.encode("utf-8", errors="replace") + b"\0")
    for file in files:
        total.update(hashlib.sha256(file.read()).digest())
    return total.hexdigest()
