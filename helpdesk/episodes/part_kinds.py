"""Making, changing and removing the producer's own kinds of part."""

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from helpdesk.episodes.errors import KindInUseError
from helpdesk.episodes.models import PartKind


@transaction.atomic
def keep_kind(kind: PartKind, values: Mapping[str, Any]) -> PartKind:
    """Store a kind's name, usual length and place; parts that are of it keep their lengths."""
    for name in ("name", "usual_s", "stands"):
        setattr(kind, name, values[name])
    kind.full_clean()
    kind.save()
    return kind


@transaction.atomic
def remove_kind(kind: PartKind) -> None:
    """Remove a kind. Raises KindInUseError while any part, of whichever show, is of it."""
    count = kind.segments.count()
    if count:
        noun = "part is" if count == 1 else "parts are"
        raise KindInUseError(f"“{kind.name}” stays: {count} {noun} of this kind.")
    PartKind.objects.filter(pk=kind.pk).delete()
