"""The phrase patterns of the knowledge files: parsing, indexing and finding them in words.

The language is small on purpose, so that people who know printing can write it:

========== ===================================================================
``a b``    the words follow each other (articles and auxiliaries may intervene)
``lift*``  any word beginning with these letters
``x*/y``   one word or the other
``word?``  the word may be missing
``a .. b`` up to four words may stand between
``a & b``  both in one thought, in either order, up to twelve words apart
``a-b``    written apart, with a hyphen or as one word
========== ===================================================================

Every pattern is filed under its rarest word, so that reading a text looks only at the patterns
one of whose rare words is there. All searching is bounded by the pattern's length: there are no
regular expressions that could run away.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import permutations, product
from typing import NamedTuple

from triage.errors import KnowledgeError, Problem
from triage.reading.tokens import Document, split_words

GAP_WORDS = 4
"""Words that may stand in the place of ``..``."""

TOGETHER_WORDS = 12
"""Words that may stand in the place of ``&``."""

MOST_TOGETHER = 3
"""Pieces that may be joined by ``&``; they are looked for in every order."""

MOST_FILLERS = 2
"""Filler words that may stand between two words that follow each other."""

MOST_OPTIONAL = 4
"""Optional or hyphenated words in one pattern; each doubles the readings to look for."""

FILLERS = frozenset(
    {"a", "an", "the", "my", "its", "this", "that", "these", "those", "is", "are", "was", "were"}
    | {"be", "been", "being", "has", "have", "had", "am", "do", "does", "did"}
    | {"really", "very", "quite", "so", "just", "also", "slightly", "rather", "pretty", "totally"}
    | {"completely", "always", "still", "keep", "keeps", "kept", "get", "gets", "getting", "some"}
)
"""Words that may stand between two words of a pattern without changing what is said."""

COMMON_WORDS = FILLERS | frozenset(
    {"i", "it", "to", "of", "and", "or", "in", "on", "at", "for", "from", "with", "when", "then"}
    | {"not", "no", "dont", "doesnt", "wont", "cant", "isnt", "off", "up", "out", "down", "too"}
    | {"print*", "prints", "print", "printing", "printer", "printed", "layer", "layers", "layer*"}
    | {"nozzle", "bed", "plate", "filament", "part", "parts", "first", "like", "all", "after"}
)
"""Words so frequent in reports that a pattern is better filed under another of its words."""


@dataclass(frozen=True, slots=True)
class Element:
    """One place in a pattern: the words that may stand there.

    Parameters
    ----------
    exact : frozenset of str
        Whole words.
    prefixes : tuple of str
        Beginnings of words.
    gap : int
        Words that may stand between the element before and this one.
    """

    exact: frozenset[str]
    prefixes: tuple[str, ...]
    gap: int = 0

    def accepts(self, word: str) -> bool:
        """Whether `word` may stand here."""
        return word in self.exact or (bool(self.prefixes) and word.startswith(self.prefixes))

    @property
    def keys(self) -> tuple[str, ...]:
        """Words and beginnings (with their star) in a fixed order."""
        return (*sorted(self.exact), *(f"{prefix}*" for prefix in self.prefixes))


class Target(NamedTuple):
    """What a pattern speaks of: kind ("finding", "risk", …), id, and the side it takes."""

    kind: str
    id: str
    side: str


class Match(NamedTuple):
    """A pattern found: its target and the indices of the words that fill its elements."""

    target: Target
    words: tuple[int, ...]

    @property
    def first(self) -> int:
        """Index of the first word."""
        return self.words[0]

    @property
    def last(self) -> int:
        """Index of the last word."""
        return self.words[-1]


@dataclass(frozen=True, slots=True)
class Search:
    """Result of one search: the matches in the order of the text, and the work it took.

    Parameters
    ----------
    matches : tuple of Match
        What was found, earliest first.
    attempts : int
        Patterns that were tried at a word; grows linearly with the text.
    """

    matches: tuple[Match, ...]
    attempts: int


class _Entry(NamedTuple):
    target: Target
    elements: tuple[Element, ...]
    anchor: int


def parse_pattern(pattern: str) -> tuple[tuple[Element, ...], ...]:
    """Return the readings of a pattern, each a sequence of elements.

    Parameters
    ----------
    pattern : str
        A phrase in the language of this module.

    Returns
    -------
    tuple of tuple of Element
        One reading, or several when words are optional or hyphenated.

    Raises
    ------
    KnowledgeError
        If the pattern has no required word, begins or ends with a gap, has more than
        MOST_OPTIONAL optional or hyphenated words or more than MOST_TOGETHER joined pieces.
    """
    if "&" not in pattern:
        return _parse_row(pattern)
    rows = [_parse_row(part) for part in pattern.split("&")]
    if len(rows) > MOST_TOGETHER:
        msg = f"pattern '{pattern}' joins more than {MOST_TOGETHER} pieces with '&'"
        raise KnowledgeError(Problem("", "", msg))
    readings = {
        _join(_spaced(row, TOGETHER_WORDS) for row in chosen)
        for order in permutations(rows)
        for chosen in product(*order)
    }
    return tuple(sorted(readings, key=lambda reading: (len(reading), str(reading))))


def _parse_row(pattern: str) -> tuple[tuple[Element, ...], ...]:
    """Return the readings of a pattern whose words stand in one order."""
    choices: list[list[tuple[Element, ...]]] = []
    gap = 0
    pieces = pattern.lower().split()
    if not pieces or pieces[0] == ".." or pieces[-1] == "..":
        msg = f"pattern '{pattern}' must begin and end with a word"
        raise KnowledgeError(Problem("", "", msg))
    for piece in pieces:
        if piece == "..":
            gap = GAP_WORDS
            continue
        choices.append(_parse_piece(piece, gap, pattern))
        gap = 0
    if sum(len(choice) > 1 for choice in choices) > MOST_OPTIONAL:
        msg = f"pattern '{pattern}' has more than {MOST_OPTIONAL} optional or hyphenated words"
        raise KnowledgeError(Problem("", "", msg))
    readings = {_join(parts) for parts in product(*choices)}
    if () in readings:
        msg = f"pattern '{pattern}' has no required word"
        raise KnowledgeError(Problem("", "", msg))
    if len(readings) == 1:
        return tuple(readings)
    return tuple(sorted(readings, key=lambda reading: (len(reading), str(reading))))


def _spaced(row: tuple[Element, ...], gap: int) -> tuple[Element, ...]:
    """Return a reading that may stand `gap` words behind what comes before it."""
    return (replace(row[0], gap=gap), *row[1:])


def _parse_piece(piece: str, gap: int, pattern: str) -> list[tuple[Element, ...]]:
    """Return the ways one blank-separated piece can be filled."""
    optional = piece.endswith("?")
    body = piece.removesuffix("?")
    exact: set[str] = set()
    prefixes: list[str] = []
    ways: list[tuple[Element, ...]] = []
    for alternative in body.split("/"):
        starred = alternative.endswith("*")
        words = _split(alternative.removesuffix("*"))
        if not words or "*" in alternative[:-1] or "?" in alternative:
            msg = f"pattern '{pattern}': '{piece}' is not a word, a beginning* or alternatives"
            raise KnowledgeError(Problem("", "", msg))
        if len(words) > 1:
            ways.append(_spell_apart(words, starred=starred, gap=gap))
        solid = "".join(words)
        if starred:
            prefixes.append(solid)
        else:
            exact.add(solid)
    ways.append((Element(frozenset(exact), tuple(sorted(prefixes)), gap),))
    if optional:
        ways.append(())
    return ways


@cache
def _split(alternative: str) -> tuple[str, ...]:
    """Return the words of one alternative; a few thousand stand in tens of thousands of places."""
    return tuple(split_words(alternative))


def _spell_apart(words: Sequence[str], *, starred: bool, gap: int) -> tuple[Element, ...]:
    elements = [Element(frozenset({word}), ()) for word in words]
    if starred:
        elements[-1] = Element(frozenset(), (words[-1],))
    elements[0] = replace(elements[0], gap=gap)
    return tuple(elements)


def _join(parts: Iterable[tuple[Element, ...]]) -> tuple[Element, ...]:
    joined = [element for part in parts for element in part]
    if joined:
        joined[0] = replace(joined[0], gap=0)
    return tuple(joined)


class PhraseIndex:
    """Patterns filed for search; immutable once made.

    Parameters
    ----------
    patterns : iterable of (Target, str)
        Patterns with what they speak of.

    Raises
    ------
    KnowledgeError
        If patterns cannot be parsed; names every one with its target.
    """

    def __init__(self, patterns: Iterable[tuple[Target, str]]) -> None:
        parsed: list[tuple[Target, tuple[Element, ...]]] = []
        problems: list[Problem] = []
        for target, pattern in patterns:
            try:
                parsed.extend((target, reading) for reading in parse_pattern(pattern))
            except KnowledgeError as error:
                key = f"phrases {target.kind}.{target.id}"
                problems.extend(Problem("", key, found.message) for found in error.problems)
        if problems:
            raise KnowledgeError(*problems)
        uses = Counter(key for _, reading in parsed for part in reading for key in part.keys)
        self._exact: dict[str, list[_Entry]] = {}
        self._prefix: dict[str, list[_Entry]] = {}
        for target, reading in dict.fromkeys(parsed):
            weights = [_weight(element, uses) for element in reading]
            anchor = weights.index(min(weights))
            entry = _Entry(target, reading, anchor)
            for word in reading[anchor].exact:
                self._exact.setdefault(word, []).append(entry)
            for prefix in reading[anchor].prefixes:
                self._prefix.setdefault(prefix, []).append(entry)
        self._shortest = min(map(len, self._prefix), default=1)
        self._longest = max(map(len, self._prefix), default=0)

    def search(self, document: Document) -> Search:
        """Return every place where a pattern is found, the closest fit at each place."""
        seen: dict[str, tuple[_Entry, ...]] = {}
        found: dict[Match, None] = {}
        attempts = 0
        for index, word in enumerate(document.words):
            entries = seen.get(word)
            if entries is None:
                entries = seen[word] = self._filed_under(word)
            attempts += len(entries)
            for entry in entries:
                words = _fit(document, entry, index)
                if words is not None:
                    found[Match(entry.target, words)] = None
        return Search(tuple(sorted(found, key=lambda match: match.words)), attempts)

    def _filed_under(self, word: str) -> tuple[_Entry, ...]:
        entries = list(self._exact.get(word, ()))
        for length in range(self._shortest, min(len(word), self._longest) + 1):
            entries.extend(self._prefix.get(word[:length], ()))
        # By identity, as comparing whole patterns costs more than the search itself.
        return tuple({id(entry): entry for entry in entries}.values())


def _weight(element: Element, uses: Counter[str]) -> float:
    """Return how often the element is likely to be met; the smallest makes the best anchor."""
    common = sum(100 for key in element.keys if key in COMMON_WORDS or len(key) < 4)
    return common + sum(1 + 0.1 * uses[key] for key in element.keys)


def _fit(document: Document, entry: _Entry, index: int) -> tuple[int, ...] | None:
    """Return the words that fill a pattern whose anchor stands at `index`, or None."""
    elements = entry.elements
    before = _walk(document, index, elements, range(entry.anchor - 1, -1, -1))
    if before is None:
        return None
    after = _walk(document, index, elements, range(entry.anchor + 1, len(elements)))
    if after is None:
        return None
    return (*reversed(before), index, *after)


def _walk(
    document: Document, index: int, elements: Sequence[Element], order: range
) -> tuple[int, ...] | None:
    """Return the nearest words that fill the elements in `order`, going out from `index`."""
    if not order:
        return ()
    paths: dict[int, tuple[int, ...]] = {index: ()}
    for which in order:
        # The gap is written at the right-hand one of two neighbours.
        gap = elements[max(which, which - order.step)].gap
        reached: dict[int, tuple[int, ...]] = {}
        for place, path in paths.items():
            for following in _places(document, place, elements[which], gap, order.step):
                reached.setdefault(following, (*path, following))
        if not reached:
            return None
        paths = reached
    return next(iter(paths.values()))


def _places(document: Document, place: int, element: Element, gap: int, step: int) -> list[int]:
    """Return where `element` may stand next to the word at `place`, nearest first."""
    words, segments, clauses = document.words, document.segments, document.clauses
    found: list[int] = []
    skipped = fillers = 0
    at = place + step
    while 0 <= at < len(words) and segments[at] == segments[place]:
        if not gap and clauses[at] != clauses[place]:
            break
        if element.accepts(words[at]):
            found.append(at)
            if not gap:
                break
        if not gap and fillers < MOST_FILLERS and words[at] in FILLERS:
            fillers += 1
        else:
            skipped += 1
            if skipped > gap:
                break
        at += step
    return found
