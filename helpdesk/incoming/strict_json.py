"""JSON from outside, read strictly: what two programs could understand in two ways is refused.

RFC 8259 leaves open what a name given twice means and how deep a reader must follow; RFC 7493
(I-JSON) forbids the first, and a limit keeps the second cheap.
"""

import json
import re
from typing import Any, NoReturn

from helpdesk.core.errors import RefusedInputError

DEEPEST = 24  # lists and objects inside each other
# Possessive, and content with a text that never ends: else each quotation mark in it is tried anew,
# and a few hundred kilobytes take minutes.
_STRUCTURE = re.compile(r'"(?:[^"\\]|\\.)*+"?|[\[{]|[\]}]', re.DOTALL)
_HALF = re.compile(r"[\ud800-\udfff]")


class UnreadableJsonError(RefusedInputError):
    """A text is not JSON the desk reads; the message says why."""


def read_json(raw: bytes | str, *, deepest: int = DEEPEST) -> Any:
    """Return what a JSON text says; raises UnreadableJsonError."""
    text = raw if isinstance(raw, str) else _decode(raw)
    _check_depth(text, deepest)
    try:
        found = json.loads(text, object_pairs_hook=_unique, parse_constant=_no_constant)
    except UnreadableJsonError:
        raise
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise UnreadableJsonError(f"This is not JSON: {error.msg} at {where}.") from None
    except ValueError:  # Python reads no number of thousands of digits
        raise UnreadableJsonError("A number in it has too many digits.") from None
    return found


def _decode(raw: bytes) -> str:
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        raise UnreadableJsonError(f"Byte {error.start + 1} is not UTF-8.") from None


def _check_depth(text: str, deepest: int) -> None:
    """Refuse nesting beyond the limit before anything is built of it."""
    depth = 0
    for mark in _STRUCTURE.finditer(text):
        depth += {"[": 1, "{": 1, "]": -1, "}": -1}.get(mark.group(), 0)
        if depth > deepest:
            raise UnreadableJsonError(f"It is nested deeper than {deepest} levels.")


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise UnreadableJsonError("A name stands twice in one object.")
    if any(_HALF.search(part) for pair in pairs for part in pair if isinstance(part, str)):
        raise UnreadableJsonError("Half a character stands in it (an unpaired surrogate).")
    return found


def _no_constant(name: str) -> NoReturn:
    raise UnreadableJsonError(f"{name} is not JSON.")
