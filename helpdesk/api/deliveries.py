"""What programs with a token read about a case, for its timeline, and which cases they reach."""

import datetime
from collections.abc import Iterator

from helpdesk.api.models import CaseRef, Scope
from helpdesk.cases.models import Case, Channel
from helpdesk.core import clock
from helpdesk.outbox.deliveries import Delivery, delivery_source, reaches

WHAT = {"asked": "question", "answer": "answer"}
LISTENING = datetime.timedelta(days=2)  # a program that asked for events since then is there


@delivery_source("api")
def list_read(case: Case) -> Iterator[Delivery]:
    """Yield questions and answers with whether the case's program has read that they are there."""
    for row in _listening(case):
        for event in case.events.filter(kind__in=WHAT, at__gte=row.created_at).order_by("pk"):
            if event.data.get("via") == Channel.MAIL:
                continue
            yield Delivery(
                at=event.at,
                channel=row.token.channel,
                what=WHAT[event.kind],
                state="sent" if event.pk <= row.token.heard_up_to else "waiting",
            )


@reaches("api")
def is_reached(case: Case) -> bool:
    """Return whether a program that reads events and cases passes on what the desk writes."""
    if case.reply_channel == Channel.MAIL or case.erased_at:
        return False
    since = clock.today() - LISTENING
    return any(
        row.token.is_alive and row.token.last_used_on and row.token.last_used_on >= since
        for row in _listening(case)
    )


def _listening(case: Case) -> list[CaseRef]:
    """Return the references of a case whose program may read what happens to it."""
    needed = {Scope.EVENT_READ, Scope.CASE_READ}
    rows = CaseRef.objects.filter(case=case).select_related("token")
    return [row for row in rows if needed <= set(row.token.scopes)]
