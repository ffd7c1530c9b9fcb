"""Which answered cases are due to be asked, and which have gone silent."""

import datetime

from django.db.models import Exists, OuterRef, Q, QuerySet

from helpdesk.cases.models import Case, CaseState, Channel, Message, MessageKind, Outcome
from helpdesk.core import clock

BATCH = 200  # cases a round does at most; the next round takes the rest
BY_MAIL = Q(reply_channel=Channel.MAIL) & ~Q(email="")
FROM_DESK = (MessageKind.NOTE, MessageKind.RECEIPT)


def list_due_cases() -> QuerySet[Case]:
    """Return the answered cases whose day to be asked has come, the longest due first."""
    return Case.objects.filter(
        state=CaseState.ANSWERED, follow_up_on__lte=clock.today(), erased_at__isnull=True
    ).order_by("follow_up_on", "pk")


def list_due_by_mail() -> QuerySet[Case]:
    """Return the due cases that the desk asks by itself."""
    return list_due_cases().filter(BY_MAIL)


def list_due_by_hand() -> QuerySet[Case]:
    """Return the due cases that a reviewer has to ask by another channel."""
    return list_due_cases().exclude(BY_MAIL)


def list_silent_cases(days: int) -> QuerySet[Case]:
    """Return the answered cases nobody has written about for so many days."""
    since = clock.now() - datetime.timedelta(days=days)
    words = Message.objects.filter(case=OuterRef("pk"), sent_at__gt=since)
    outcomes = Outcome.objects.filter(case=OuterRef("pk"), said_at__gt=since)
    return Case.objects.filter(
        ~Exists(words.exclude(kind__in=FROM_DESK)),
        ~Exists(outcomes),
        state=CaseState.ANSWERED,
        waiting_since__lte=since,
    ).order_by("waiting_since", "pk")
