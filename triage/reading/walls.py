"""How many walls a print has: "3 walls", "wall count 4", "two perimeters"."""

from collections.abc import Iterator
from typing import Final

from triage.reading.quantities import NUMBER_WORDS, Quantity
from triage.reading.tokens import Document

_WALLS: Final = frozenset({"wall", "walls", "perimeter", "perimeters"})
_BETWEEN: Final = frozenset(
    {"count", "counts", "number", "line", "lines", "loops", "loop", "is", "are", "set", "to", "of"}
    | {"at", "now"}
)
_OF_SHAPE: Final = frozenset(
    {"all", "other", "the", "these", "those", "both", "of", "my", "between", "along", "on"}
)
"""Words before a number that make its walls those of the shape."""

_TOLD_OF: Final = frozenset(
    {"is", "are", "was", "were", "has", "have", "had", "came", "come", "of", "look", "looks"}
    | {"split", "splits", "cracked", "bulge", "bulges", "lean", "leans", "warped", "failed", "away"}
)
"""Words behind the walls that tell of the walls of a shape."""

_COUNTING: Final = frozenset({"only", "just", "so", "single", "with", "using"})
_MEASURED: Final = frozenset({"mm", "cm", "c", "thick", "inch", "inches", "%", "percent", "m"})
_COUNTED: Final = frozenset({"times", "of", "sides"})


def read_walls(document: Document) -> Iterator[tuple[str, Quantity]]:
    """Yield ("walls", quantity) for every number of walls stated."""
    taken = -1
    for at, word in enumerate(document.words):
        if word not in _WALLS:
            continue
        found = _before(document, at, taken) or _behind(document, at)
        if found is not None:
            taken = found.last
            yield "walls", found


def _before(document: Document, at: int, taken: int) -> Quantity | None:
    """Return the number in "3 walls" and "three outer walls"."""
    words = document.words
    place = at - 1
    if place >= 0 and words[place] in {"outer", "print", "solid"}:
        place -= 1
    value = _whole(words[place]) if place > taken and place >= 0 else None
    if value is None or any(document.after[i].strip() for i in range(place, at)):
        return None
    before = words[place - 1] if place else ""
    apart = not place or document.clauses[place - 1] != document.clauses[place]
    behind = words[at + 1] if at + 1 < len(words) and not document.after[at].strip() else ""
    if behind in _TOLD_OF or (before in _OF_SHAPE and not apart):
        return None
    # "One wall" is mostly some wall of the shape; "only one wall" and "1 wall" count.
    if words[place] == "one" and before not in _COUNTING:
        return None
    return Quantity(value, value, value, "none", place, at)


def _behind(document: Document, at: int) -> Quantity | None:
    """Return the number in "walls: 3", "wall count is 4" and "number of walls 6"."""
    words = document.words
    place = at + 1
    while place < len(words) and words[place] in _BETWEEN and place - at < 4:
        place += 1
    value = _whole(words[place]) if place < len(words) else None
    gaps = "".join(document.after[at:place])
    if (
        value is None
        or set(gaps) - set(" :=\t-")
        or document.sentences[place] != document.sentences[at]
    ):
        return None
    behind = words[place + 1] if place + 1 < len(words) else ""
    joined = place + 1 < len(words) and not document.after[place].strip()
    if (joined and behind in _MEASURED | _COUNTED) or document.after[place].startswith(("/", "°")):
        return None
    said = words[at + 1 : place]
    # "walls are 3" is no way to count them, "wall count is 3" is one.
    if said and said[0] in {"are", "is", "at", "of", "to"}:
        return None
    return Quantity(value, value, value, "none", at, place)


def _whole(word: str) -> float | None:
    if word.isdecimal() and len(word) <= 4:
        return float(word)
    value = NUMBER_WORDS.get(word, 0.5)
    return value if value >= 1 and word not in {"a", "an", "couple"} else None
