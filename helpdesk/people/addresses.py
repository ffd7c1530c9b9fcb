"""Addresses in their one written form, so that the same one is told to be the same.

Two spellings count as one address where a standard says they mean the same, and nowhere else: a
person is not taken for another because their names look alike.
"""

import unicodedata
from email.utils import parseaddr
from urllib.parse import urlsplit, urlunsplit

DEFAULT_PORTS = {"http": 80, "https": 443}


def mail_key(address: str) -> str:
    """Return a mail address in its one form: lower case, the domain in its ASCII form.

    RFC 5321 section 2.4 leaves the case of the part before the @ to its host; no host in use tells
    two people apart by it. Domains: RFC 1035 section 2.3.3 and RFC 5891.
    """
    plain = parseaddr(address)[1].strip()
    local, at, domain = plain.rpartition("@")
    if not at or not local or not domain:
        return ""
    return f"{unicodedata.normalize('NFC', local).casefold()}@{_ascii_domain(domain)}"


def handle_key(handle: str) -> str:
    """Return a handle in its one form, after the profile UsernameCaseMapped (RFC 8265, 3.3).

    Width forms become ordinary ones, letters lower case, accents composed. Letters of other
    scripts that look alike stay apart. A sign in front of a handle is how it is called, no part
    of it.
    """
    plain = "".join(_ordinary_width(character) for character in handle.strip())
    return unicodedata.normalize("NFC", plain.lower()).removeprefix("@")


def place_key(place: str) -> str:
    """Return the name of a server or network in one form: lower case, single spaces."""
    return " ".join(unicodedata.normalize("NFKC", place).casefold().split())


def link_key(link: str) -> str:
    """Return a web address in the normal form of RFC 3986 section 6.2.2 and 6.2.3."""
    parts = urlsplit(link.strip())
    host = _ascii_domain(parts.hostname or "")
    try:
        port = parts.port
    except ValueError:
        port = None
    if port and port != DEFAULT_PORTS.get(parts.scheme):
        host = f"{host}:{port}"
    return urlunsplit((parts.scheme, host, parts.path or "/", parts.query, ""))


def _ordinary_width(character: str) -> str:
    is_other_width = unicodedata.decomposition(character).startswith(("<wide>", "<narrow>"))
    return unicodedata.normalize("NFKC", character) if is_other_width else character


def _ascii_domain(domain: str) -> str:
    """Return a domain in lower case and in its ASCII form where it has one."""
    plain = domain.strip().rstrip(".").lower()
    try:
        return plain.encode("idna").decode("ascii")
    except UnicodeError:
        return plain
