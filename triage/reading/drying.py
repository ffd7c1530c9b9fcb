"""How material was dried: which temperatures and times belong to drying and not to printing."""

from collections.abc import Mapping, Sequence
from typing import Final

from triage.reading.quantities import Quantity
from triage.reading.tokens import Document

_DRIED: Final = frozenset({"dried", "dryed", "drying", "dehydrated", "dehydrating"})
_DRYERS: Final = frozenset({"dry", "drybox", "dryer", "drier", "dehydrator"})
"""Words of a place or state as well; a room's temperature beside them says nothing."""

_OTHERWISE: Final = frozenset(
    {"print", "prints", "printed", "printing", "nozzle", "hotend", "bed", "plate", "extruder"}
    | {"fail", "fails", "failed", "failing", "fan", "layer", "layers", "room", "garage", "ambient"}
    | {"into", "later", "ago", "heated", "chamber", "stops", "stopped", "jams", "clogs"}
)
"""Words between drying and a number that lead on to something else."""

_AFTERWARDS: Final = frozenset(
    {"in", "into", "later", "ago", "old", "print", "job", "long", "mark"}
)
"""Words right behind a time that make it another time than that of drying."""

_BEFORE_REACH: Final = 9
_BEHIND_REACH: Final = 5
_BARE_C: Final = (30.0, 120.0)
_LEAST_BESIDE_DRYER_C: Final = 30.0


def find_drying(document: Document, quantities: Sequence[Quantity]) -> Mapping[int, str]:
    """Return the places in `quantities` that tell how material was dried, with the fact's name."""
    found: dict[int, str] = {}
    for place, quantity in enumerate(quantities):
        word = _drying_before(document, quantities, place, found)
        if not word:
            word = _drying_behind(document, quantity)
        name = _name(document, quantity, word) if word else ""
        if name and name not in {found.get(other) for other in (place - 1, place - 2)}:
            found[place] = name
    return found


def _drying_before(
    document: Document, quantities: Sequence[Quantity], place: int, found: Mapping[int, str]
) -> str:
    """Return the word of drying that leads up to a quantity, or ""."""
    quantity = quantities[place]
    first, _ = document.segment_range(quantity.first)
    follows = place - 1 in found and quantity.first - quantities[place - 1].last <= 3
    for at in range(quantity.first - 1, max(first, quantity.first - _BEFORE_REACH) - 1, -1):
        word = document.words[at]
        same_clause = document.clauses[at] == document.clauses[quantity.first]
        if word in _OTHERWISE or not (same_clause or follows or _joint(document, at)):
            return ""
        if word in _DRIED or word in _DRYERS:
            return word
    return ""


def _joint(document: Document, at: int) -> bool:
    """Whether only "dryer:" or "dried (" stands between a word and the next."""
    word = document.words[at]
    return (word in _DRIED or word in _DRYERS) and document.after[at].strip() in {":", "(", "["}


def _drying_behind(document: Document, quantity: Quantity) -> str:
    """Return the word of drying soon behind a quantity ("6 h in the dryer"), or ""."""
    _, stop = document.segment_range(quantity.last)
    for at in range(quantity.last + 1, min(stop, quantity.last + 1 + _BEHIND_REACH)):
        word = document.words[at]
        if word in _OTHERWISE or document.clauses[at] != document.clauses[quantity.last]:
            return ""
        if word in _DRIED or word in _DRYERS:
            return word
    return ""


def _name(document: Document, quantity: Quantity, word: str) -> str:
    low, high = _BARE_C
    if quantity.dimension == "time":
        behind = document.words[quantity.last + 1 : quantity.last + 2]
        return (
            ""
            if _AFTERWARDS.intersection(behind) and not _is_in_dryer(document, quantity)
            else "dry_h"
        )
    if quantity.dimension == "temperature":
        far = word in _DRYERS and quantity.value < _LEAST_BESIDE_DRYER_C
        return "" if far else "dry_c"
    if quantity.dimension == "none" and low <= quantity.value <= high:
        before = document.words[quantity.first - 1] if quantity.first else ""
        at_sign = quantity.first > 0 and "@" in document.after[quantity.first - 1]
        counted = document.words[quantity.last + 1 : quantity.last + 2] == ["g"]
        return "dry_c" if (before == "at" or at_sign) and not counted else ""
    return ""


def _is_in_dryer(document: Document, quantity: Quantity) -> bool:
    behind = document.words[quantity.last + 1 : quantity.last + 6]
    return behind[:1] == ["in"] and bool(_DRYERS.intersection(behind))
