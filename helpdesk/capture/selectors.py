"""What is in the desk already of a report that is being entered."""

from collections.abc import Sequence

from django.db.models import Q

from helpdesk.cases.models import Case

MOST_LIKELY = 5


def list_known(*, link: str, key: str = "") -> Sequence[Case]:
    """Return the latest cases whose report stood at this very address, or is this very post."""
    asked = Q()
    if link:
        asked |= Q(reports__link=link)
    if key:
        asked |= Q(reports__submission_key=key)
    if not asked:
        return []
    found = Case.objects.filter(asked, erased_at__isnull=True)
    return list(found.distinct().order_by("-pk")[:MOST_LIKELY])


def find_made_case(case_id: int | None) -> Case | None:
    """Return a case that was made just now, or None for a number that is none."""
    return Case.objects.filter(pk=case_id).first() if case_id else None
