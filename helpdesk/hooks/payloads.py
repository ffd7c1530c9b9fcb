"""Reading what was posted: strict JSON within limits, then the schema of its type."""

from collections.abc import Mapping
from functools import cache
from typing import Any

from django.utils.dateparse import parse_datetime
from jsonschema import Draft202012Validator, FormatChecker
from jsonschema.exceptions import ValidationError

from helpdesk.hooks.errors import BadBodyError, BadMessageError, Fault
from helpdesk.hooks.schemas import DATA, schema_of
from helpdesk.incoming.strict_json import UnreadableJsonError, read_json

MOST_BYTES = 256 * 1024
DEEPEST = 12  # objects and lists inside each other; the schemas need five
MOST_FAULTS = 10
DETAIL_CHARS = 200
_formats = FormatChecker(formats=())


@_formats.checks("date-time")  # type: ignore[untyped-decorator]
def _is_moment(value: object) -> bool:
    """Return whether a text is a moment with its offset (RFC 3339)."""
    if not isinstance(value, str):
        return True
    try:
        found = parse_datetime(value)
    except ValueError:
        return False
    return found is not None and found.tzinfo is not None


def read_message(body: bytes) -> dict[str, Any]:
    """Return a message that fits the schema of its type.

    Raises BadBodyError when it cannot be read, BadMessageError with every fault when it can.
    """
    message = _read_json(body)
    if not isinstance(message, dict):
        raise BadMessageError([Fault("", "The message is not a JSON object.")])
    kind = message.get("type")
    if not isinstance(kind, str) or kind not in DATA:
        known = ", ".join(DATA)
        raise BadMessageError([Fault("/type", f"The type is none of {known}.")])
    found = sorted(
        _validator(kind).iter_errors(message), key=lambda error: list(map(str, error.path))
    )
    if found:
        raise BadMessageError([_fault(error) for error in found[:MOST_FAULTS]])
    return message


def _read_json(body: bytes) -> Any:
    """Return what a body says; refuses deep nesting, a name twice in one object, and NaN."""
    try:
        return read_json(body, deepest=DEEPEST)
    except UnreadableJsonError as error:
        raise BadBodyError(str(error)) from None


@cache
def _validator(kind: str) -> Draft202012Validator:
    return Draft202012Validator(schema_of(kind), format_checker=_formats)


def _fault(error: ValidationError) -> Fault:
    """Return one fault without repeating what was sent, which may be long and personal."""
    pointer = "".join(f"/{str(part).replace('~', '~0').replace('/', '~1')}" for part in error.path)
    return Fault(pointer, _say(str(error.validator), error.validator_value))


def _say(rule: str, value: Any) -> str:
    """Return a broken rule in words."""
    if rule in ("required", "enum"):
        value = ", ".join(map(str, value))
    words: Mapping[str, str] = {
        "required": f"These are needed: {value}.",
        "type": f"This must be of type {value}.",
        "minLength": "This must not be empty.",
        "pattern": "This must not be blank.",
        "maxLength": f"This may have {value} characters at most.",
        "maxItems": f"There may be {value} at most.",
        "minimum": f"This must be {value} or more.",
        "maximum": f"This must be {value} or less.",
        "enum": f"This must be one of {value}.",
        "format": "This must be a moment with its offset, such as 2026-11-26T18:30:00Z.",
        "oneOf": "A picture has either an address (url) or its bytes (base64).",
        "anyOf": "Name the conversation, or the case.",
    }
    return words.get(rule, f"This breaks the rule {rule}.")[:DETAIL_CHARS]
