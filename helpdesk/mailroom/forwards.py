"""Letters that pass on somebody else's: who wrote the original, and its words.

A forwarded letter stands as an attachment of type message/rfc822 (RFC 2046 section 5.2.1) or within
the text, under a line and a few header fields; how that line reads is common practice in several
languages, without a source.
"""

import re
from dataclasses import dataclass

from helpdesk.mailroom.fields import Mailbox, read_mailboxes
from helpdesk.mailroom.limits import MAX_DEPTH
from helpdesk.mailroom.quotes import FROM_NAMES, HEADER_LINE, SEPARATOR, is_header_block
from helpdesk.mailroom.text import clean_line

SUBJECT = re.compile(
    r"(?:\s*\[[^\]]{1,40}\])?\s*(?:fwd?|wg|tr|rv|enc|i|doorst|vs|vb|pd|fs)\s*[:\uff1a]", re.I
)
_PASSED_ON = re.compile(
    r"[-_=*>\s]*\s*(?:begin )?(?:forwarded message|forwarded letter|weitergeleitete nachricht|"
    r"anfang der weitergeleiteten nachricht|message transféré|message réexpédié|début du message "
    r"(?:transféré|réexpédié)|mensaje reenviado|inicio del mensaje reenviado|messaggio inoltrato|"
    r"inizio messaggio inoltrato|mensagem (?:encaminhada|reencaminhada)|doorgestuurd bericht|"
    r"begin doorgestuurd bericht|videresendt meddelelse|videresendt melding|vidarebefordrat "
    r"meddelande|vidarebefordrat brev|przekazana wiadomość|wiadomość przekazana dalej|"
    r"пересылаемое сообщение|пересланное сообщение)\s*[:\uff1a]?\s*[-_=*\s]*",
    re.I,
)
_MAILTO = re.compile(r"[\[<](?:mailto:)?([^\s<>\[\]]+@[^\s<>\[\]]+)[\]>]", re.I)
HEADER_LINES = 12
NAME_CHARS = 80


@dataclass(frozen=True)
class Forwarded:
    """What was passed on: the first writer, their words, and the words of who passes it on."""

    author: Mailbox
    words: str
    comment: str


def is_forward_subject(subject: str) -> bool:
    """Return True when a subject says that the letter passes another on."""
    return bool(SUBJECT.match(subject))


def find_forwarded(text: str, *, subject: str) -> Forwarded | None:
    """Return the letter passed on within a text, the innermost when it went through many hands."""
    lines = text.split("\n")
    comment: str | None = None
    author = Mailbox("")
    for _ in range(MAX_DEPTH):
        start = _find_start(lines, by_subject=is_forward_subject(subject) and comment is None)
        if start is None:
            break
        if comment is None:
            comment = "\n".join(lines[:start]).strip()
        author, lines = _read_block(lines[start:])
    if comment is None:
        return None
    return Forwarded(author, "\n".join(lines).strip(), comment)


def _find_start(lines: list[str], *, by_subject: bool) -> int | None:
    """Return the line where the letter passed on begins.

    The line above an answered letter begins one passed on only where the subject says so.
    """
    for at, line in enumerate(lines):
        plain = line.strip()
        if not plain or len(plain) > 200:
            continue
        if _PASSED_ON.fullmatch(plain) and _header_follows(lines, at + 1):
            return at
        if by_subject and (SEPARATOR.fullmatch(plain) or is_header_block(lines, at)):
            return at
    return None


def _header_follows(lines: list[str], at: int) -> bool:
    return any(HEADER_LINE.fullmatch(_plain(line)) for line in lines[at : at + 6])


def _read_block(lines: list[str]) -> tuple[Mailbox, list[str]]:
    """Return who wrote the letter passed on, and its lines without the fields above them."""
    author = Mailbox("")
    end = 0
    for number, line in enumerate(lines[:HEADER_LINES], start=1):
        found = HEADER_LINE.fullmatch(_plain(line))
        if found:
            end = number
            if found["name"].lower() in FROM_NAMES and author == Mailbox(""):
                author = read_author(found["value"])
        elif end and line.startswith((" ", "\t")):  # a field that goes on
            end = number
        elif end:
            break
    return author, _unquoted(lines[end or 1 :])


def _unquoted(lines: list[str]) -> list[str]:
    """Return lines without the quoting mark, when all that have words carry one."""
    if all(line.startswith(">") for line in lines if line.strip()):
        return [line[1:].removeprefix(" ") for line in lines]
    return lines


def _plain(line: str) -> str:
    return line.lstrip("> \t").strip()


def read_author(value: str) -> Mailbox:
    """Return the writer named in a line of text: a name, an address or both."""
    found = _MAILTO.search(value)
    if found:
        name = clean_line(value[: found.start()].strip(" \"'*"), limit=NAME_CHARS)
        address = next(iter(read_mailboxes([found[1]])), Mailbox("")).address
        return Mailbox(address, name)
    known = read_mailboxes([value])
    return known[0] if known else Mailbox("", clean_line(value.strip(" \"'*"), limit=NAME_CHARS))
