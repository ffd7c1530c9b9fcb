"""Addresses that open a recording at a second."""

from urllib.parse import urlsplit, urlunsplit


def at_second(link: str, second: float) -> str:
    """Return a link that opens at a second, as W3C Media Fragments URI 1.0 writes it (#t=281)."""
    return urlunsplit(urlsplit(link)._replace(fragment=f"t={max(0, int(second))}"))
