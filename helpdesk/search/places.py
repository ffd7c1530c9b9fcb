"""Where in a passage the words that were looked for stand closest together."""

import unicodedata
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from helpdesk.search.selectors import END, START
from helpdesk.search.words import WORD

BEFORE_CHARS, AFTER_CHARS = 60, 180  # of an excerpt around where the words begin
LEAST_ALIKE = 4  # letters two forms of a longer word share


@dataclass(frozen=True, slots=True)
class Token:
    """A word with where it stands, and whether the index marked it."""

    word: str
    start: int
    end: int
    is_marked: bool


@dataclass(frozen=True, slots=True)
class Place:
    """A text, what the index marked in it, and where the words stand closest together."""

    text: str
    marks: Sequence[tuple[int, int]]
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class _Seen:
    """One thing that was looked for, where it stands."""

    start: int
    end: int
    term: int


def find_place(marked: str, terms: Sequence[str]) -> Place | None:
    """Return where most of the terms stand within the fewest characters, None without any.

    Parameters
    ----------
    marked : str
        A text in which the index has put marks around what fits.
    terms : sequence of str
        Words, and phrases whose words are parted by single spaces.
    """
    text, marks = _take_out_marks(marked)
    tokens = list(_tokens(text, marks))
    seen = [found for n, term in enumerate(terms) for found in _seek(tokens, term.split(), n)]
    if not seen:  # the index knows forms of a word that do not look alike
        seen = [_Seen(token.start, token.end, 0) for token in tokens if token.is_marked]
    if not seen:
        return None
    first, last = _closest(sorted(seen, key=lambda found: found.start))
    return Place(text, marks, first.start, last.end)


def excerpt_of(place: Place) -> str:
    """Return the words around a place with the marks of the index in them."""
    start = max(0, place.start - BEFORE_CHARS)
    end = min(len(place.text), place.start + AFTER_CHARS)
    if start:
        start = place.text.find(" ", start, place.start) + 1 or place.start
    if end < len(place.text):
        end = max(place.text.rfind(" ", 0, end), min(place.end, end))
    parts, at = [], start
    for opens, closes in place.marks:
        if closes <= start or opens >= end:
            continue
        parts += [place.text[at:opens], START, place.text[opens : min(closes, end)], END]
        at = min(closes, end)
    parts.append(place.text[at:end])
    words = "".join(parts).strip()
    return f"{'… ' if start else ''}{words}{' …' if end < len(place.text.rstrip()) else ''}"


def _take_out_marks(marked: str) -> tuple[str, list[tuple[int, int]]]:
    """Return the text as it was, and where each mark opened and closed."""
    pieces, marks, at = [], [], 0
    for n, piece in enumerate(marked.split(START)):
        inside, closed, after = piece.partition(END)
        if n and closed:
            marks.append((at, at + len(inside)))
        pieces += [inside, after]
        at += len(inside) + len(after)
    return "".join(pieces), marks


def _tokens(text: str, marks: Sequence[tuple[int, int]]) -> Iterator[Token]:
    """Yield the words of a text, folded as the index folds them."""
    left = iter([*marks, (len(text), len(text))])
    opens, closes = next(left)
    for match in WORD.finditer(text):
        start, end = match.span()
        while closes <= start < len(text):
            opens, closes = next(left, (len(text), len(text) + 1))
        yield Token(fold(match.group()), start, end, opens <= start < closes)


def fold(word: str) -> str:
    """Return a word without case and accents."""
    if word.isascii():  # most words are, and this is done for thousands of them in a search
        return word.lower()
    parted = unicodedata.normalize("NFKD", word.casefold())
    return "".join(c for c in parted if not unicodedata.combining(c))


def _seek(tokens: Sequence[Token], words: Sequence[str], term: int) -> Iterator[_Seen]:
    """Yield where the words stand one after the other."""
    folded = [fold(word) for word in words]
    for n in range(len(tokens) - len(folded) + 1):
        run = tokens[n : n + len(folded)]
        if not any(token.is_marked for token in run):
            continue
        if all(_fits(token, word) for token, word in zip(run, folded, strict=True)):
            yield _Seen(run[0].start, run[-1].end, term)


def _fits(token: Token, word: str) -> bool:
    """Return True for the word itself, and for a marked form of it."""
    if token.word == word:
        return True
    shared = 0
    for ours, theirs in zip(token.word, word, strict=False):
        if ours != theirs:
            break
        shared += 1
    shorter = min(len(token.word), len(word))
    return token.is_marked and shared >= max(1, min(LEAST_ALIKE, shorter - 1))


def _closest(seen: Sequence[_Seen]) -> tuple[_Seen, _Seen]:
    """Return the first and last of the shortest run that holds every term seen."""
    wanted = len({found.term for found in seen})
    inside: Counter[int] = Counter()
    best, first = (0, len(seen) - 1), 0
    shortest = seen[-1].end - seen[0].start + 1
    for last, found in enumerate(seen):
        inside[found.term] += 1
        while len(inside) == wanted:
            length = found.end - seen[first].start
            if length < shortest:
                best, shortest = (first, last), length
            inside[seen[first].term] -= 1
            if not inside[seen[first].term]:
                del inside[seen[first].term]
            first += 1
    return seen[best[0]], seen[best[1]]
