"""Showing both versions when two producers changed the same thing."""

from collections.abc import Mapping
from dataclasses import dataclass

from django import forms
from django.http import QueryDict


@dataclass(frozen=True)
class Difference:
    """A field that stands otherwise than it was typed: its label, and how it stands now."""

    name: str
    label: str
    stored: str


def differences(typed: forms.BaseForm, stored: forms.BaseForm) -> list[Difference]:
    """Return the fields of a refused form that differ from what somebody else stored."""
    found = []
    for field in typed:
        if field.name == "version":
            continue
        now = _shown(stored[field.name])
        if _shown(field) != now:
            found.append(Difference(field.name, str(field.label), now))
    return found


def with_version(data: QueryDict, version: int) -> QueryDict:
    """Return typed data with the version it is now held against, so saving overwrites knowingly."""
    changed = data.copy()
    changed["version"] = str(version)
    return changed


def stored_pictures(rows: Mapping[int, int]) -> str:
    """Return pictures and their seconds as a line of text."""
    return ", ".join(f"photo {photo_id} for {seconds} s" for photo_id, seconds in rows.items())


def _shown(field: forms.BoundField) -> str:
    """Return a field's value as it stands in its control, in one way of writing line ends."""
    value = field.value()
    if value is None:
        return ""
    text = str(field.field.widget.format_value(value) or "")
    return text.replace("\r\n", "\n").strip()
