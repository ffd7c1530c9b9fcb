"""Checking what comes in against the schemas of the description."""

import datetime
from collections.abc import Sequence
from functools import cache
from typing import Any

from django.utils.dateparse import parse_datetime
from jsonschema import Draft202012Validator, FormatChecker
from jsonschema.exceptions import ValidationError

from helpdesk.api.errors import INVALID, Fault, ProblemError
from helpdesk.api.schemas import COMPONENTS, Schema
from helpdesk.core.http import storable

MOST_FAULTS = 10
VALUE_CHARS = 200
_formats = FormatChecker(formats=())


def _is_moment(value: object) -> bool:
    return not isinstance(value, str) or read_moment(value) is not None


_formats.checks("date-time")(_is_moment)


def read_moment(text: str) -> datetime.datetime | None:
    """Return a moment with its offset (RFC 3339), or None."""
    try:
        found = parse_datetime(text)
    except ValueError:
        return None
    return found if found and found.tzinfo else None


def check(value: Any, name: str) -> Any:
    """Return a body that fits a schema of the description, without what no database holds.

    Raises ProblemError with every fault.
    """
    faults = find_faults(value, name)
    if faults:
        raise ProblemError(INVALID, "See “errors” for what to change.", faults=faults)
    return _clean(value)


def find_faults(value: Any, name: str) -> list[Fault]:
    """Return what is wrong with a value that should fit a schema of the description."""
    found = sorted(
        _validator(name).iter_errors(value), key=lambda error: list(map(str, error.path))
    )
    return [_fault(error) for error in found[:MOST_FAULTS]]


def fits(value: Any, schema: Schema) -> bool:
    """Return whether one value fits a schema that stands for itself."""
    return bool(Draft202012Validator(schema, format_checker=_formats).is_valid(value))


@cache
def _validator(name: str) -> Draft202012Validator:
    whole = {"$ref": f"#/components/schemas/{name}", "components": {"schemas": COMPONENTS}}
    return Draft202012Validator(whole, format_checker=_formats)


def _fault(error: ValidationError) -> Fault:
    """Return one fault in words, without repeating what was sent."""
    parts = [str(part).replace("~", "~0").replace("/", "~1") for part in error.absolute_path]
    return Fault("/".join(["#", *parts]), _say(str(error.validator), error.validator_value, error))


def _say(rule: str, value: Any, error: ValidationError) -> str:
    if rule == "required":
        there = error.instance if isinstance(error.instance, dict) else {}
        return f"These are needed: {', '.join(name for name in value if name not in there)}."
    if rule == "additionalProperties":
        known = ", ".join(error.schema.get("properties", ()))
        return f"Something here is not known. Known are: {known}."
    words = {
        "type": f"This must be of type {_list(value)}.",
        "maxLength": f"This may have {value} characters at most.",
        "maxItems": f"There may be {value} at most.",
        "uniqueItems": "Each may stand here once.",
        "minimum": f"This must be {value} or more.",
        "maximum": f"This must be {value} or less.",
        "enum": f"This must be one of {_list(value)}.",
        "format": "This must be a moment with its offset, such as 2026-11-26T18:30:00Z.",
        "pattern": "This has not the form it needs, or says nothing.",
    }
    return words.get(rule, f"This breaks the rule {rule}.")[:VALUE_CHARS]


def _list(value: Any) -> str:
    return (
        ", ".join(map(str, value))
        if isinstance(value, Sequence) and not isinstance(value, str)
        else str(value)
    )


def _clean(value: Any) -> Any:
    if isinstance(value, str):
        return storable(value)
    if isinstance(value, list):
        return [_clean(item) for item in value]
    if isinstance(value, dict):
        return {name: _clean(item) for name, item in value.items()}
    return value
