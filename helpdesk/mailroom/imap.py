"""Letters of an IMAP folder (RFC 3501), each handed over before the server is told it was read."""

import contextlib
import imaplib
import re
import ssl
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from helpdesk.mailroom.errors import MailboxError
from helpdesk.mailroom.limits import MAX_BYTES
from helpdesk.mailroom.mailboxes import MailboxSettings

TIMEOUT_S = 30
MOST_LETTERS = 200  # a round; the next one goes on
_SIZE = re.compile(rb"RFC822\.SIZE (\d+)")
FAULTS = (imaplib.IMAP4.error, OSError, ssl.SSLError, EOFError, UnicodeError)

Keep = Callable[[bytes, bool], None]  # the bytes, and whether they are the header alone


@dataclass(frozen=True)
class Position:
    """How far a folder was read: ids count anew when the validity changes (RFC 3501 2.3.1.1)."""

    uid_validity: int | None
    last_uid: int


def fetch_letters(box: MailboxSettings, position: Position, keep: Keep) -> Position:
    """Hand each new letter to `keep`, then mark or move it; return how far it went.

    New is what nobody has read, and what came after the last letter fetched though somebody read
    it elsewhere. A letter whose `keep` fails stays unread and is fetched again. Raises MailboxError
    when the server cannot be used.
    """
    try:
        with _open(box) as server:
            return _fetch(server, box, position, keep)
    except FAULTS as error:
        raise MailboxError(_describe(error)) from None  # the server's words may repeat a password


def _describe(error: BaseException) -> str:
    words = re.sub(r"^b'(.*)'$", r"\1", str(error))
    return f"{type(error).__name__}: {words}"[:300]


@contextlib.contextmanager
def _open(box: MailboxSettings) -> Iterator[imaplib.IMAP4]:
    """Log in and out of the server."""
    server: imaplib.IMAP4
    if box.uses_tls:
        context = ssl.create_default_context()
        server = imaplib.IMAP4_SSL(box.host, box.port, ssl_context=context, timeout=TIMEOUT_S)
    else:
        server = imaplib.IMAP4(box.host, box.port, timeout=TIMEOUT_S)
    try:
        if box.starttls and not box.uses_tls:
            server.starttls(ssl.create_default_context())
        server.login(box.user, box.password)
        yield server
    finally:
        with contextlib.suppress(*FAULTS):
            server.logout()


def _fetch(server: imaplib.IMAP4, box: MailboxSettings, position: Position, keep: Keep) -> Position:
    _ok(server.select(_quoted(box.folder)), f"The folder {box.folder} cannot be opened.")
    validity = _validity(server)
    last = position.last_uid if position.uid_validity == validity else 0
    uids = _search(server, "UNSEEN")
    if last:
        # "n:*" names the last letter even where n is above it (RFC 3501 section 6.4.8).
        uids |= {uid for uid in _search(server, f"UID {last + 1}:*") if uid > last}
    for uid in sorted(uids)[:MOST_LETTERS]:
        size = _size(server, uid)
        is_head = size > MAX_BYTES
        raw = _letter(server, uid, "HEADER" if is_head else "")
        if raw is None:  # somebody deleted it meanwhile
            continue
        keep(raw, is_head)
        _finish(server, box, uid)
        last = max(last, uid)
    return Position(validity, last)


def _validity(server: imaplib.IMAP4) -> int | None:
    _, data = server.response("UIDVALIDITY")
    return int(data[0]) if data and data[0] else None


def _search(server: imaplib.IMAP4, what: str) -> set[int]:
    data = _ok(server.uid("SEARCH", what), "The folder cannot be searched.")
    return {int(word) for line in data if line for word in line.split()}


def _size(server: imaplib.IMAP4, uid: int) -> int:
    data = _ok(server.uid("FETCH", str(uid), "(RFC822.SIZE)"), "A letter cannot be fetched.")
    found = _SIZE.search(b" ".join(line for line in data if isinstance(line, bytes)))
    return int(found[1]) if found else 0


def _letter(server: imaplib.IMAP4, uid: int, what: str) -> bytes | None:
    """Return a letter or its header without marking it, None when it has gone."""
    data = _ok(server.uid("FETCH", str(uid), f"(BODY.PEEK[{what}])"), "A letter cannot be fetched.")
    return next((part[1] for part in data if isinstance(part, tuple)), None)


def _finish(server: imaplib.IMAP4, box: MailboxSettings, uid: int) -> None:
    """Mark a letter as read, or move it where the settings say."""
    _ok(server.uid("STORE", str(uid), "+FLAGS.SILENT", r"(\Seen)"), "A letter cannot be marked.")
    if not box.move_to:
        return
    target = _quoted(box.move_to)
    if "MOVE" in server.capabilities:  # RFC 6851
        _ok(server.uid("MOVE", str(uid), target), f"A letter cannot be moved to {box.move_to}.")
        return
    _ok(server.uid("COPY", str(uid), target), f"A letter cannot be moved to {box.move_to}.")
    _ok(server.uid("STORE", str(uid), "+FLAGS.SILENT", r"(\Deleted)"), "A letter cannot be moved.")
    server.expunge()


def _ok(answer: tuple[str, Any], fault: str) -> list[Any]:
    """Return what a command brought: lines as bytes, literals as pairs.

    Raises MailboxError where the server says no.
    """
    state, data = answer
    if state != "OK":
        raise MailboxError(fault)
    return list(data)


def _quoted(name: str) -> str:
    """Return a folder's name as the protocol writes it (RFC 3501 section 4.3)."""
    return '"' + name.replace("\\", "\\\\").replace('"', '\\"') + '"'
