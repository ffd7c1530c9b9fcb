"""Letters of a POP3 mailbox (RFC 1939), each handed over before it may be deleted."""

import contextlib
import poplib
import ssl
from collections.abc import Callable, Collection, Iterator

from helpdesk.mailroom.errors import MailboxError
from helpdesk.mailroom.limits import MAX_BYTES
from helpdesk.mailroom.mailboxes import MailboxSettings

TIMEOUT_S = 30
MOST_LETTERS = 200  # a round; the next one goes on
FAULTS = (poplib.error_proto, OSError, EOFError, UnicodeError, ValueError)

Keep = Callable[[str, bytes, bool], None]  # id, bytes, and whether they are the header alone


class _Plain(poplib.POP3):
    """A connection that is closed when the greeting fails, which the library leaves open."""

    def __init__(self, host: str, port: int) -> None:
        """Connect and wait for the greeting."""
        try:
            super().__init__(host, port, timeout=TIMEOUT_S)
        except BaseException:
            self.close()
            raise

    def close(self) -> None:
        """Close what is open, also before there is anything."""
        if getattr(self, "sock", None):
            super().close()


class _Encrypted(poplib.POP3_SSL):
    """The same over TLS."""

    def __init__(self, host: str, port: int) -> None:
        """Connect and wait for the greeting."""
        try:
            context = ssl.create_default_context()
            super().__init__(host, port, context=context, timeout=TIMEOUT_S)
        except BaseException:
            self.close()
            raise

    def close(self) -> None:
        """Close what is open, also before there is anything."""
        if getattr(self, "sock", None):
            super().close()


def fetch_letters(box: MailboxSettings, seen: Collection[str], keep: Keep) -> set[str]:
    """Hand each letter not seen to `keep` with its id; return the ids the server has now.

    Raises MailboxError when the server cannot be used.
    """
    try:
        with _open(box) as server:
            return _fetch(server, box, seen, keep)
    except FAULTS as error:
        raise MailboxError(f"{type(error).__name__}: {error}"[:300]) from None


@contextlib.contextmanager
def _open(box: MailboxSettings) -> Iterator[poplib.POP3]:
    """Log in and out of the server; deletions count once it is left in order."""
    connect: type[_Plain] | type[_Encrypted] = _Encrypted if box.uses_tls else _Plain
    server: poplib.POP3 = connect(box.host, box.port)
    try:
        if box.starttls and not box.uses_tls:
            server.stls(ssl.create_default_context())
        server.user(box.user)
        server.pass_(box.password)
        yield server
        server.quit()
    finally:
        with contextlib.suppress(*FAULTS):
            server.close()


def _fetch(
    server: poplib.POP3, box: MailboxSettings, seen: Collection[str], keep: Keep
) -> set[str]:
    uids = dict(_pair(line) for line in server.uidl()[1])
    sizes = dict(_pair(line) for line in server.list()[1])
    fresh = [(number, uid) for number, uid in uids.items() if uid not in seen]
    for number, uid in fresh[:MOST_LETTERS]:
        is_head = int(sizes.get(number, "0")) > MAX_BYTES
        lines = server.top(int(number), 0)[1] if is_head else server.retr(int(number))[1]
        keep(uid, b"\r\n".join(lines) + b"\r\n", is_head)
    if box.deletes:
        done = set(seen) | {uid for _, uid in fresh[:MOST_LETTERS]}
        for number, uid in uids.items():
            if uid in done:
                server.dele(int(number))
    return set(uids.values())


def _pair(line: bytes) -> tuple[str, str]:
    number, _, value = line.decode("ascii", errors="replace").partition(" ")
    return number, value.strip()
