"""A letter's new words apart from what it quotes and how it is signed.

What is folded away is kept: the whole text stays with the letter. The signature's separator is that
of RFC 3676 section 4.3, the quoting mark that of section 4.5; the lines that programs write above a
quote are common practice in several languages, without a source.
"""

import re
from dataclasses import dataclass

SIGNATURE = re.compile(r"--[ \t]?")
# "On <date> <somebody> wrote:", which may run over three lines.
_WROTE = (
    r"wrote|writes|schrieb|schreef|a écrit|escribió|ha scritto|escreveu|skrev|kirjoitti|"
    r"napisał(?:a|\(a\))?|\u043d\u0430\u043f\u0438\u0441\u0430\u043b\w?|yazd\u0131|írta|napsal(?:a|\(a\))?"
)
ATTRIBUTION = re.compile(rf"(?:\S.{{3,400}}\s)?\b(?:{_WROTE})\b.{{0,120}}[:\uff1a]", re.I)
# How such words begin where they run over several lines.
_STARTS = re.compile(r"(?:on|am|le|el|il|op|den|em|w dniu|dnia)\b|\d{1,4}[-./ ]\S", re.I)
_SAID_BY = re.compile(r"\S.{3,400}\S\s+(?:20\d\d|\d{1,2}:\d\d).{0,200}[:\uff1a]$")
SEPARATOR = re.compile(
    r"[-_=*\s]{2,}\s*(?:original message|original-nachricht|ursprüngliche nachricht|"
    r"message d'origine|message d’origine|mensaje original|messaggio originale|"
    r"mensagem original|oorspronkelijk bericht|oprindelig meddelelse|"
    r"ursprungligt meddelande|opprinnelig melding|wiadomość oryginalna|исходное сообщение)"
    r"\s*[-_=*\s]{2,}|_{20,}",
    re.I,
)
HEADER_LINE = re.compile(
    r"\*{0,2}(?P<name>from|sent|date|to|cc|subject|reply-to|von|gesendet|datum|an|betreff|"
    r"de|envoyé|à|objet|enviado(?: el)?|para|asunto|fecha|da|inviato|data|a|oggetto|assunto|van|"
    r"verzonden|aan|onderwerp|fra|sendt|til|dato|emne|från|skickat|till|ämne|od|wysłano|do|temat|"
    r"от|отправлено|кому|тема|дата)\s?\*{0,2}\s?[:\uff1a]\*{0,2}\s*(?P<value>.*)",
    re.I,
)
FROM_NAMES = frozenset({"from", "von", "de", "da", "van", "fra", "från", "od", "от"})
SENT_FROM = re.compile(
    r"(?:sent from my|von meinem .{1,40} gesendet|gesendet von mein|envoyé de(?:puis)? mon|"
    r"enviado desde mi|inviato d(?:al|a) mi|verstuurd vanaf mijn|sendt fra min|skickat från min|"
    r"wysłano z mojego|enviado do meu)\b.{0,80}",
    re.I,
)
LEAST_HEADER_LINES = 3
ATTRIBUTION_LINES = 3
SIGNATURE_LINES = 15


@dataclass(frozen=True)
class Folded:
    """The words written anew, and whether something was folded away."""

    words: str
    has_more: bool


def fold(text: str) -> Folded:
    """Return the new words of a text; answers written between quoted lines are all kept."""
    lines = text.split("\n")
    end = _find_end(lines)
    kept = _without_quotes(lines[:end])
    words = "\n".join(_without_signature(kept)).strip()
    return Folded(words, has_more=words != text.strip())


def is_header_block(lines: list[str], at: int) -> bool:
    """Return True when lines repeat a letter's header: From first, three kinds of field."""
    first = HEADER_LINE.fullmatch(_unquoted(lines[at]))
    if not first or first["name"].lower() not in FROM_NAMES or not first["value"].strip():
        return False
    names = set()
    for line in lines[at : at + 8]:
        plain = _unquoted(line)
        if not plain:
            break
        if found := HEADER_LINE.fullmatch(plain):
            names.add(found["name"].lower())
    return len(names) >= LEAST_HEADER_LINES


def _unquoted(line: str) -> str:
    return line.lstrip("> ").strip()


def _find_end(lines: list[str]) -> int:
    """Return the line from which on everything is a whole earlier letter."""
    for at, line in enumerate(lines):
        plain = line.strip()
        if len(plain) < 200 and SEPARATOR.fullmatch(plain) and _earlier_follows(lines, at + 1):
            return at
        if is_header_block(lines, at):
            return at
    return len(lines)


def _earlier_follows(lines: list[str], at: int) -> bool:
    """Return True when a separator stands above an earlier letter, not inside new words."""
    following = [at + n for n, line in enumerate(lines[at : at + 4]) if line.strip()]
    if not following:
        return True
    return any(HEADER_LINE.fullmatch(_unquoted(lines[n])) for n in following)


def _without_quotes(lines: list[str]) -> list[str]:
    """Return lines without quoted ones and the attribution above them."""
    kept: list[str] = []
    at = 0
    while at < len(lines):
        if lines[at].startswith(">"):
            at += 1
            continue
        skipped = _attribution_length(lines, at)
        if skipped:
            at += skipped
            continue
        kept.append(lines[at])
        at += 1
    return kept


def _attribution_length(lines: list[str], at: int) -> int:
    """Return how many lines the words above a quote take, 0 when they are none."""
    if not lines[at].strip() or len(lines[at]) > 400:
        return 0
    joined = ""
    most = ATTRIBUTION_LINES if _STARTS.match(lines[at]) else 1
    for count in range(1, most + 1):
        if at + count > len(lines) or not lines[at + count - 1].strip():
            return 0
        joined = f"{joined} {lines[at + count - 1].strip()}".strip()
        if len(joined) > 500:
            return 0
        is_one = ATTRIBUTION.fullmatch(joined) or _SAID_BY.fullmatch(joined)
        if is_one:
            return count if _quote_follows(lines, at + count) else 0
    return 0


def _quote_follows(lines: list[str], at: int) -> bool:
    """Return True when the next line with words is quoted, or none follows."""
    for line in lines[at : at + 3]:
        if line.strip():
            return line.startswith(">")
    return at + 3 >= len(lines)


def _without_signature(lines: list[str]) -> list[str]:
    """Return lines without the signature at their end."""
    for at, line in enumerate(lines):
        rest = len(lines) - at - 1
        if SIGNATURE.fullmatch(line) and (rest <= SIGNATURE_LINES or line == "-- "):
            lines = lines[:at]
            break
    while lines and (not lines[-1].strip() or SENT_FROM.fullmatch(lines[-1].strip())):
        lines = lines[:-1]
    return lines
