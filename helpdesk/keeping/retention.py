"""For how long the desk keeps cases, contacts, letters, originals and its own records."""

import datetime
from collections.abc import Sequence

from django.contrib.sessions.models import Session
from django.db import transaction
from django.db.models import Q, QuerySet

from helpdesk.cases.models import AccessLink, Case, CaseState
from helpdesk.core import clock
from helpdesk.core.models import Job, JobState
from helpdesk.core.storage import delete_files
from helpdesk.keeping.erasing import erase_case
from helpdesk.keeping.rules import retention_rule
from helpdesk.outbox.backend import remove_letter_files
from helpdesk.outbox.models import IncomingId, OutgoingMail
from helpdesk.people.models import Person
from helpdesk.people.services import tidy_person
from helpdesk.photos.models import Photo, PhotoState, photo_storage

TIME_IS_OVER = "Cleared when its time was over"
CONTACT_FIELDS = ("email", "handle", "handle_where", "owner_link")
HAS_CONTACT = Q(*[~Q(**{name: ""}) for name in CONTACT_FIELDS], _connector=Q.OR)


def _closed_before(moment: datetime.datetime) -> QuerySet[Case]:
    return Case.objects.filter(
        state=CaseState.CLOSED, closed_at__lt=moment, erased_at__isnull=True
    ).order_by("pk")


@retention_rule("cases", setting="cases", what="Closed cases", find=_closed_before)
def erase_old_cases(ids: Sequence[int]) -> int:
    """Erase cases as their people could; the nameless, technical part stays."""
    for case_id in ids:
        erase_case(case_id, by="the desk", what=TIME_IS_OVER)
    return len(ids)


@retention_rule(
    "contacts",
    setting="contact",
    what="Addresses of closed cases",
    find=lambda moment: _closed_before(moment).filter(HAS_CONTACT),
)
def forget_addresses(ids: Sequence[int]) -> int:
    """Forget how people can be reached, and close their private pages; names stay."""
    people = list(Person.objects.filter(parts__case__in=ids).distinct())
    changed = Case.objects.filter(pk__in=ids).update(**dict.fromkeys(CONTACT_FIELDS, ""))
    AccessLink.objects.filter(case__in=ids, revoked_at__isnull=True).update(revoked_at=clock.now())
    for person in people:
        tidy_person(person)
    return changed


@retention_rule(
    "letters",
    setting="mail",
    what="Letters that were sent",
    find=lambda moment: OutgoingMail.objects.filter(sent_at__lt=moment).order_by("pk"),
)
def remove_letters(ids: Sequence[int]) -> int:
    """Delete letters with their files; what an answer said stays with the case."""
    mails = OutgoingMail.objects.filter(pk__in=ids)
    names = list(mails.values_list("message_id", flat=True))
    transaction.on_commit(lambda: remove_letter_files(names))
    return mails.delete()[0]


@retention_rule(
    "mail ids",
    setting="mail",
    what="Ids of letters that came",
    find=lambda moment: IncomingId.objects.filter(noted_at__lt=moment).order_by("pk"),
)
def remove_mail_ids(ids: Sequence[int]) -> int:
    """Delete the ids by which letters stand below each other."""
    return IncomingId.objects.filter(pk__in=ids).delete()[0]


@retention_rule(
    "originals",
    setting="originals",
    what="Photos as they were sent",
    find=lambda moment: (
        Photo.objects.filter(received_at__lt=moment, state=PhotoState.READY)
        .exclude(original="")
        .order_by("pk")
    ),
)
def remove_originals(ids: Sequence[int]) -> int:
    """Delete the files as sent; the smaller pictures without the camera's data stay."""
    photos = list(Photo.objects.select_for_update().filter(pk__in=ids).exclude(original=""))
    delete_files(photo_storage(), [photo.original.name for photo in photos])
    return Photo.objects.filter(pk__in=[photo.pk for photo in photos]).update(original="")


@retention_rule(
    "finished work",
    setting="log",
    what="Records of finished work",
    find=lambda moment: Job.objects.filter(state=JobState.DONE, finished_at__lt=moment).order_by(
        "pk"
    ),
)
def remove_jobs(ids: Sequence[int]) -> int:
    """Delete the rows of jobs that were done."""
    return Job.objects.filter(pk__in=ids).delete()[0]


@retention_rule(
    "dead links",
    setting="log",
    what="Private addresses that open nothing",
    find=lambda moment: AccessLink.objects.filter(
        Q(expires_at__lt=moment) | Q(revoked_at__lt=moment)
    ).order_by("pk"),
)
def remove_links(ids: Sequence[int]) -> int:
    """Delete the hashes of addresses that expired or were revoked."""
    return AccessLink.objects.filter(pk__in=ids).delete()[0]


@retention_rule(
    "sessions",
    setting="log",
    what="Log-ins that ran out",
    find=lambda moment: Session.objects.filter(expire_date__lt=moment).order_by("pk"),
)
def remove_sessions(ids: Sequence[int]) -> int:
    """Delete log-ins that nobody can use any more."""
    return Session.objects.filter(pk__in=ids).delete()[0]
