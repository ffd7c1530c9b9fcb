"""What hooks carried about a case, and which cases a program reaches by itself."""

from collections.abc import Iterator

from helpdesk.cases.models import Case, Channel
from helpdesk.hooks.events import ANSWERED, ASKED
from helpdesk.hooks.models import DeliveryState, HookConversation, HookDelivery, HookTarget
from helpdesk.outbox.deliveries import Delivery, delivery_source, reaches

WHAT = {ASKED: "question", ANSWERED: "answer"}


@delivery_source("hooks")
def list_carried(case: Case) -> Iterator[Delivery]:
    """Yield the questions and answers that were given to the program a case came by."""
    rows = HookDelivery.objects.filter(
        case=case, kind__in=WHAT, target__source__isnull=False, body__contains='"texts"'
    ).select_related("target__source")
    for row in rows:
        yield Delivery(
            at=row.created_at,
            channel=row.target.source.channel if row.target.source else Channel.CHAT,
            what=WHAT[row.kind],
            state=_state_of(row),
            words=row.last_words if row.state != DeliveryState.SENT else "",
        )


@reaches("hooks")
def is_reached(case: Case) -> bool:
    """Return whether a bot that is listening passes on what the desk writes to this case."""
    if case.reply_channel == Channel.MAIL or case.erased_at:
        return False
    sources = HookConversation.objects.filter(case=case, source__is_active=True).values("source")
    targets = HookTarget.objects.filter(source__in=sources, is_active=True)
    return any({ASKED, ANSWERED} <= set(target.kinds) for target in targets)


def _state_of(row: HookDelivery) -> str:
    """Return a delivery's state in the words of the timeline."""
    if row.state == DeliveryState.SENT:
        return "sent"
    if row.state == DeliveryState.GIVEN_UP:
        return "given up"
    return "failing" if row.last_words else "waiting"
