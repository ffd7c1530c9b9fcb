"""From an event of a case's history to one delivery for each target that wants to hear of it."""

import datetime
import secrets
from collections.abc import Iterable

from django.db import transaction

from helpdesk.cases.models import Case, Event
from helpdesk.core import clock
from helpdesk.core.jobs import start_job
from helpdesk.hooks.events import TEST, kind_of, write_body, write_test_body
from helpdesk.hooks.models import HookConversation, HookDelivery, HookTarget

ID_BYTES = 15


@transaction.atomic
def announce_event(event_id: int) -> list[HookDelivery]:
    """Write a delivery for each target that hears of an event; one that has its own keeps it."""
    event = Event.objects.select_related("case", "actor").filter(pk=event_id).first()
    kind = kind_of(event) if event else ""
    if event is None or not kind:
        return []
    made = []
    for target in _list_listeners(kind):
        talk = _find_talk(target, event.case)
        if target.source_id and talk is None:
            continue  # a source's bot hears of the cases that came by it, and of no other
        if event.case.erased_at and talk:
            continue
        values = {"case": event.case, "kind": kind, "body": write_body(event, kind, talk)}
        delivery, is_new = HookDelivery.objects.get_or_create(
            target=target, event=event, defaults={**values, **_fresh()}
        )
        if is_new:
            plan(delivery, clock.now())
            made.append(delivery)
    return made


@transaction.atomic
def send_test(target: HookTarget) -> HookDelivery:
    """Write a message that says nothing but that it is a trial."""
    body = write_test_body(clock.now().isoformat())
    delivery = HookDelivery.objects.create(target=target, kind=TEST, body=body, **_fresh())
    plan(delivery, clock.now())
    return delivery


def plan(delivery: HookDelivery, due_at: datetime.datetime) -> None:
    """Set when a delivery is sent next, and write the job that does it."""
    delivery.plans += 1
    delivery.due_at = due_at
    delivery.save(update_fields=["plans", "due_at"])
    start_job(
        "deliver-hook",
        key=f"deliver-hook:{delivery.pk}:{delivery.plans}",
        payload={"delivery": delivery.pk},
        run_after=due_at,
    )


def _fresh() -> dict[str, object]:
    now = clock.now()
    return {"webhook_id": f"evt_{secrets.token_hex(ID_BYTES)}", "created_at": now, "due_at": now}


def _list_listeners(kind: str) -> Iterable[HookTarget]:
    """Return the targets that want events of a type; few, and not all databases search lists."""
    active = HookTarget.objects.filter(is_active=True).select_related("source")
    return [target for target in active if kind in target.kinds]


def _find_talk(target: HookTarget, case: Case) -> HookConversation | None:
    """Return the conversation of a target's source that a case came by."""
    if target.source_id is None:
        return None
    return (
        HookConversation.objects.filter(source=target.source_id, case=case)
        .select_related("source")
        .order_by("pk")
        .last()
    )
