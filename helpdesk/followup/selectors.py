"""Which answered cases are due to be asked, by whom and how, and which have gone silent."""

import datetime
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.conf import settings
from django.db.models import Exists, OuterRef, Q, QuerySet

from helpdesk.answers.joined import addresses_of
from helpdesk.answers.models import Answer
from helpdesk.answers.selectors import list_sent_steps
from helpdesk.cases.models import (
    Case,
    CaseState,
    Channel,
    Message,
    MessageKind,
    Outcome,
    OutcomeResult,
)
from helpdesk.core import clock
from helpdesk.followup.models import FIRST, REMINDER, Asking
from helpdesk.outbox.marks import find_mark, hash_address
from helpdesk.outbox.models import AddressMark

BATCH = 200  # cases a round does at most; the next round takes the rest
BY_MAIL = Q(reply_channel=Channel.MAIL) & ~Q(email="")
FROM_DESK = (MessageKind.NOTE, MessageKind.RECEIPT)
LOST = "Letters to their address do not arrive."
UNWANTED = "They wish for no letters that ask how it went. Ask only where you talk anyway."


@dataclass(frozen=True)
class Due:
    """A case to be asked about by hand, with what a reviewer wants to see of it at a glance."""

    case: Case
    first_step: str  # of the answer, "" where it names none
    asked_before: Asking | None
    why_by_hand: str  # "" where the channel says it all

    @property
    def number(self) -> int:
        """Return which asking comes now, 1 for the first."""
        return self.asked_before.number + 1 if self.asked_before else FIRST


def list_due_cases() -> QuerySet[Case]:
    """Return the answered cases whose day to be asked has come, the longest due first."""
    return Case.objects.filter(
        state=CaseState.ANSWERED, follow_up_on__lte=clock.today(), erased_at__isnull=True
    ).order_by("follow_up_on", "pk")


def list_due_by_mail() -> QuerySet[Case]:
    """Return the due cases that the desk asks by itself, unless the address refuses it."""
    return list_due_cases().filter(BY_MAIL)


def list_mailable() -> list[int]:
    """Return the numbers of the due cases whose addresses take a letter, no more than a batch."""
    due = list(list_due_by_mail().values_list("pk", "email"))
    refusing = _list_refusing_hashes() if due else frozenset()
    return [pk for pk, email in due if hash_address(email) not in refusing][:BATCH]


def list_due_by_hand() -> QuerySet[Case]:
    """Return the due cases that a reviewer asks: no mail, or an address that takes none."""
    due = list(list_due_by_mail().values_list("pk", "email"))
    refusing = _list_refusing_hashes() if due else frozenset()
    refused = [pk for pk, email in due if hash_address(email) in refusing][:BATCH]
    return list_due_cases().filter(~BY_MAIL | Q(pk__in=refused))


def describe_due(cases: Sequence[Case]) -> list[Due]:
    """Return what a reviewer wants to see of some due cases, in their order."""
    answers: dict[int, list[Answer]] = defaultdict(list)
    sent = Answer.objects.filter(case__in=cases, sent_at__isnull=False).order_by("sent_at", "pk")
    for answer in sent:
        answers[answer.case_id].append(answer)
    asked = {asking.case_id: asking for asking in Asking.objects.filter(case__in=cases)}
    rows = []
    for case in cases:
        steps = list_sent_steps(answers[case.pk])
        before = asked.get(case.pk)
        rows.append(
            Due(
                case=case,
                first_step=steps[0].name if steps else "",
                asked_before=before if before and before.about == case.waiting_since else None,
                why_by_hand=_why_by_hand(case),
            )
        )
    return rows


def list_same_person(case: Case) -> list[Case]:
    """Return the cases about the same print that came from the same address or handle."""
    lead = case.joined_to_id or case.pk
    group = Case.objects.filter(Q(pk=lead) | Q(joined_to=lead), erased_at__isnull=True)
    own = addresses_of(case)
    others = group.exclude(pk=case.pk).order_by("pk")
    return [other for other in others if own & addresses_of(other)]


def count_askings(cases: Iterable[Case]) -> int:
    """Return how often the person of some cases was asked about the answers they have now."""
    counts = [Asking.objects.filter(case=c, about=c.waiting_since).count() for c in cases]
    return max(counts, default=0)


def most_askings() -> int:
    """Return how often an outcome is asked for: once, and once more if a reminder is set."""
    return REMINDER if settings.REMIND_DAYS > 0 else REMINDER - 1


def find_told(case: Case, others: Sequence[Case]) -> Outcome | None:
    """Return what the person told of a case or another of theirs since its answer, or None."""
    return (
        Outcome.objects.filter(case__in=[case, *others], said_at__gte=case.waiting_since)
        .exclude(result=OutcomeResult.NOT_TRIED)
        .last()
    )


def list_unheard_cases(days: int) -> QuerySet[Case]:
    """Return the cases that were asked for the last time so many days ago and said nothing."""
    since = clock.now() - datetime.timedelta(days=days)
    askings = Asking.objects.filter(case=OuterRef("pk"), about=OuterRef("waiting_since"))
    replies = Message.objects.filter(
        case=OuterRef("pk"), kind=MessageKind.REPLY, sent_at__gte=OuterRef("waiting_since")
    )
    outcomes = Outcome.objects.filter(case=OuterRef("pk"), said_at__gte=OuterRef("waiting_since"))
    return Case.objects.filter(
        Exists(askings),
        ~Exists(askings.filter(at__gt=since)),
        ~Exists(replies),
        ~Exists(outcomes),
        state=CaseState.ANSWERED,
        follow_up_on__isnull=True,
        waiting_since__lte=since,
    ).order_by("waiting_since", "pk")


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


def _list_refusing_hashes() -> frozenset[str]:
    """Return what names the addresses that no automatic question may go to."""
    refusing = Q(undeliverable_at__isnull=False) | Q(unsubscribed_at__isnull=False)
    return frozenset(AddressMark.objects.filter(refusing).values_list("address_hash", flat=True))


def _why_by_hand(case: Case) -> str:
    """Return why somebody with a mail address is asked by hand."""
    if case.reply_channel != Channel.MAIL:
        return ""
    mark = find_mark(case.email)
    if mark is None:
        return ""
    return UNWANTED if mark.unsubscribed_at else LOST if mark.undeliverable_at else ""
