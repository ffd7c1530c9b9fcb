"""Keyset pages: a page begins after the last row seen, so depth costs nothing."""

import base64
import binascii
import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from django.core.exceptions import BadRequest, ValidationError
from django.db.models import Model, Q, QuerySet

LONGEST_PLACE = 400  # characters; the sort values of one row need far fewer
Row = TypeVar("Row", bound=Model)
Item = TypeVar("Item")


@dataclass(frozen=True)
class KeysetPage(Generic[Item]):
    """Rows of one page and where the next one begins."""

    rows: Sequence[Item]
    next_after: str  # "" when this is the last page


def encode_place(values: Sequence[Any]) -> str:
    """Return the sort values of a row as a short text fit for an address."""
    packed = json.dumps([str(v) for v in values], separators=(",", ":")).encode()
    return base64.urlsafe_b64encode(packed).decode().rstrip("=")


def decode_place(place: str, *, count: int) -> list[str]:
    """Return the sort values in a place text; refuses anything this module did not make."""
    if len(place) > LONGEST_PLACE:
        raise BadRequest("Page address not understood.")
    try:
        packed = base64.urlsafe_b64decode(place + "=" * (-len(place) % 4))
        values = json.loads(packed)
    except (ValueError, binascii.Error) as error:
        raise BadRequest("Page address not understood.") from error
    if (
        not isinstance(values, list)
        or len(values) != count
        or not all(isinstance(v, str) for v in values)
    ):
        raise BadRequest("Page address not understood.")
    return values


def after_place(fields: Sequence[str], values: Sequence[Any]) -> Q:
    """Return the condition "sorted after these values" for ascending fields ("-name" descends)."""
    condition = Q()
    same = Q()
    for field, value in zip(fields, values, strict=True):
        name, lookup = (field[1:], "lt") if field.startswith("-") else (field, "gt")
        condition |= same & Q(**{f"{name}__{lookup}": value})
        same &= Q(**{name: value})
    return condition


def keyset_page(
    rows: QuerySet[Row], *, fields: Sequence[str], after: str, size: int
) -> KeysetPage[Row]:
    """Return one page of a queryset ordered by `fields`, the last of which is unique."""
    ordered = rows.order_by(*fields)
    if after:
        values = decode_place(after, count=len(fields))
        try:
            found = list(ordered.filter(after_place(fields, values))[: size + 1])
        # A number or date that is none, or lies outside what the database can hold.
        except (ValueError, TypeError, OverflowError, ValidationError) as error:
            raise BadRequest("Page address not understood.") from error
    else:
        found = list(ordered[: size + 1])
    page = found[:size]
    more = len(found) > size
    names = [field.lstrip("-") for field in fields]
    place = encode_place([_sort_value(page[-1], name) for name in names]) if more else ""
    return KeysetPage(rows=page, next_after=place)


def _sort_value(row: Model, name: str) -> Any:
    """Return a row's value as the text that reads back to the same value."""
    value = getattr(row, name)
    return value.isoformat() if hasattr(value, "isoformat") else value
