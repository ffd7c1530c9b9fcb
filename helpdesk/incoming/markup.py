"""Marked-up text (HTML) to plain text. Nothing is fetched and nothing of the markup is shown.

nh3 reads the markup as browsers do and leaves a few known tags without attributes, so that what
follows here meets only well-formed input.
"""

import html
import re

import nh3

MAX_CHARS = 1024 * 1024
MAX_TAGS = 10_000  # the time to read markup grows with the square of its depth
BLOCKS = frozenset(
    {"p", "div", "tr", "ul", "ol", "table", "h1", "h2", "h3", "h4", "h5", "h6", "pre", "hr"}
)
TAGS = BLOCKS | {"br", "li", "td", "th", "blockquote", "a"}
DROPPED = {"script", "style", "title", "head", "template", "noscript"}
_PIECE = re.compile(r"<(/?)([a-z0-9]+)([^>]*)>|([^<]+)")
_HREF = re.compile(r'href="([^"]*)"')
_SPACES = re.compile(r"[ \t\r\n\f]+")
_BREAKS = re.compile(r"\n(?:[ \t]*\n){2,}")
_TAG_LIKE = re.compile(r"<[^<>]{0,2000}>")
DEEPEST_QUOTE = 8


def text_of_markup(markup: str, *, names_links: bool = True) -> str:
    """Return the words of marked-up text, with quoted parts marked by ">" as in plain mail.

    With `names_links` the address of a link stands behind its words.
    """
    short = markup[:MAX_CHARS]
    if short.count("<") > MAX_TAGS:
        return html.unescape(_TAG_LIKE.sub(" ", short)).strip()
    clean = nh3.clean(
        short,
        tags=set(TAGS),
        clean_content_tags=DROPPED,
        attributes={"a": {"href"}} if names_links else {},
        url_schemes={"http", "https"},
        link_rel=None,
    )
    return _Writer().write(clean)


class _Writer:
    """Writes well-formed markup as lines."""

    def __init__(self) -> None:
        """Begin with an empty line outside every quote."""
        self.lines: list[str] = [""]
        self.quotes = 0
        self.preformatted = 0
        self.links: list[tuple[str, int, int]] = []  # address, line and length where it began

    def write(self, markup: str) -> str:
        """Return the text."""
        for closing, tag, rest, words in _PIECE.findall(markup):
            if words:
                self._say(html.unescape(words))
            elif tag == "a":
                self._link(rest, bool(closing))
            else:
                self._tag(tag, bool(closing))
        return _BREAKS.sub("\n\n", "\n".join(line.rstrip() for line in self.lines)).strip()

    def _say(self, words: str) -> None:
        if self.preformatted:
            first, *others = words.split("\n")
            self._add(first)
            for line in others:
                self._break()
                self._add(line)
            return
        text = _SPACES.sub(" ", words.replace("\xa0", " "))
        self._add(text.lstrip() if self._is_empty() else text)

    def _add(self, text: str) -> None:
        self.lines[-1] += text

    def _is_empty(self) -> bool:
        return not self.lines[-1].strip("> ")

    def _break(self) -> None:
        self.lines.append("> " * min(self.quotes, DEEPEST_QUOTE))

    def _tag(self, tag: str, is_closing: bool) -> None:
        if tag == "br":
            self._break()
        elif tag in {"td", "th"}:
            self._add("" if is_closing or self._is_empty() else " ")
        elif tag == "blockquote":
            self.quotes = max(0, self.quotes + (-1 if is_closing else 1))
            self._break()
        elif tag == "li":
            self._new_block()
            self._add("" if is_closing else "- ")
        else:
            if tag == "pre":
                self.preformatted = max(0, self.preformatted + (-1 if is_closing else 1))
            self._new_block()
            if tag in {"p", "h1", "h2", "h3", "h4", "h5", "h6"} and is_closing:
                self._break()

    def _new_block(self) -> None:
        if not self._is_empty():
            self._break()

    def _link(self, rest: str, is_closing: bool) -> None:
        """Write a link's address behind its words, unless they are the address."""
        if not is_closing:
            found = _HREF.search(rest)
            address = html.unescape(found[1]) if found else ""
            self.links.append((address, len(self.lines), len(self.lines[-1])))
            return
        if not self.links:
            return
        address, line, length = self.links.pop()
        words = self.lines[-1][length:] if line == len(self.lines) else ""
        if address and address.rstrip("/") not in words.strip():
            self._add(f" <{address}>")
