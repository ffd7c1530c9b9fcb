"""Tell the producer what a person took back, and what had been shown by then."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Exists, OuterRef, Q, QuerySet

from helpdesk.accounts.models import User
from helpdesk.cases.models import Appearance, Case, ConsentRecord
from helpdesk.core import clock
from helpdesk.episodes.models import Candidate, EpisodeState, Segment, Withdrawal

SHOW_USES = ("photos", "name")
PAGE = 100


@dataclass(frozen=True)
class Place:
    """Where a case stands in a show: in reserve, on a sheet, or shown at a second."""

    episode_number: int | None = None
    shown_at_s: int | None = None


@transaction.atomic
def note_withdrawal(case_id: int, *, key: str, uses: Iterable[str]) -> list[Withdrawal]:
    """Write what was taken back, once for each show it stands in; safe to run twice.

    A case no show knows of tells the producer nothing.
    """
    case = Case.objects.filter(pk=case_id).first()
    if case is None:
        return []
    return [
        Withdrawal.objects.get_or_create(
            key=f"{key}:{use}:{place.episode_number or 'reserve'}",
            defaults={
                "case": case,
                "use": use,
                "noted_at": clock.now(),
                "episode_number": place.episode_number,
                "shown_at_s": place.shown_at_s,
            },
        )[0]
        for use in uses
        if use in SHOW_USES
        for place in _list_places(case)
    ]


@transaction.atomic
def mark_seen(withdrawal_id: int, *, by: User) -> bool:
    """Note that the producer knows; False when somebody had noted it before."""
    return bool(
        Withdrawal.objects.filter(pk=withdrawal_id, seen_at__isnull=True).update(
            seen_at=clock.now(), seen_by=by
        )
    )


def list_unseen() -> QuerySet[Withdrawal]:
    """Return what the producer has not seen yet, the oldest first."""
    unseen = Withdrawal.objects.filter(seen_at__isnull=True).select_related("case")
    return unseen.order_by("noted_at", "pk")[:PAGE]


def list_withdrawals() -> QuerySet[Withdrawal]:
    """Return what was taken back, newest first."""
    return Withdrawal.objects.select_related("case", "seen_by")[:PAGE]


def took_photos_back() -> Q:
    """Return the condition that a candidate's person allowed photos once and does not now."""
    allowed = ConsentRecord.objects.filter(case=OuterRef("case"), may_show_photos=True)
    return Q(Exists(allowed), case__may_show_photos=False)


def has_taken_back(case: Case) -> bool:
    """Return True when photos were allowed once and are not now; uses prefetched consents."""
    is_refused = not case.may_show_photos
    return is_refused and any(record.may_show_photos for record in case.consents.all())


def _list_places(case: Case) -> list[Place]:
    """Return where shows know of a case."""
    shown = [Place(a.episode_number, a.starts_at_s) for a in Appearance.objects.filter(case=case)]
    numbers = {place.episode_number for place in shown}
    coming = Segment.objects.filter(case=case, episode__state=EpisodeState.MAKING)
    planned = [
        Place(number)
        for number in coming.values_list("episode__number", flat=True)
        if number not in numbers
    ]
    if shown or planned:
        return [*shown, *planned]
    return [Place()] if Candidate.objects.filter(case=case).exists() else []
