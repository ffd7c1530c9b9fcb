"""Setting up sources and targets, changing their secrets, sending again, and tidying up."""

import datetime
import secrets
from collections.abc import Mapping
from typing import Any

from django.conf import settings
from django.db import transaction

from helpdesk.accounts.models import User
from helpdesk.core import clock
from helpdesk.core.errors import WrongStateError
from helpdesk.hooks.announcing import plan
from helpdesk.hooks.models import (
    DeliveryState,
    HookDelivery,
    HookMessage,
    HookSource,
    HookTarget,
    MessageState,
)
from helpdesk.hooks.signing import make_secret

OVERLAP = datetime.timedelta(
    hours=48
)  # both secrets hold for so long [judgement: desk design, 2026-11]
KEPT_AT_LEAST_DAYS = 4  # above the 75 h 35 min over which a sender of the specification tries
MOST_REPLAYED = 1000
PUBLIC_ID_BYTES = 15


@transaction.atomic
def make_source(values: Mapping[str, Any], *, actor: User) -> HookSource:
    """Make a source with a new secret and an address nobody guesses."""
    source = HookSource(
        **values,
        public_id=secrets.token_urlsafe(PUBLIC_ID_BYTES),
        secret=make_secret(),
        created_at=clock.now(),
        created_by=actor,
    )
    source.full_clean()
    source.save()
    return source


@transaction.atomic
def make_target(values: Mapping[str, Any], *, actor: User) -> HookTarget:
    """Make a target with a new secret."""
    target = HookTarget(**values, secret=make_secret(), created_at=clock.now(), created_by=actor)
    target.full_clean()
    target.save()
    return target


@transaction.atomic
def rotate_secret(model: type[HookSource] | type[HookTarget], pk: int) -> HookSource | HookTarget:
    """Give a source or target a new secret; the one before holds beside it for two days."""
    found = model.objects.select_for_update().get(pk=pk)
    found.previous_secret, found.previous_until = found.secret, clock.now() + OVERLAP
    found.secret = make_secret()
    found.save(update_fields=["secret", "previous_secret", "previous_until"])
    return found


def switch_source(pk: int, *, is_active: bool) -> None:
    """Retire a source, which is answered 410 from then on, or take it back."""
    HookSource.objects.filter(pk=pk).update(is_active=is_active)


@transaction.atomic
def switch_target(pk: int, *, is_active: bool) -> None:
    """Switch a target off, or on again with a clean slate."""
    why = "" if is_active else "Switched off at the desk."
    HookTarget.objects.filter(pk=pk).update(
        is_active=is_active, stopped_why=why, failing_since=None, not_before=None
    )


@transaction.atomic
def replay(delivery_id: int) -> HookDelivery:
    """Send a delivery anew, under the same id.

    Raises WrongStateError while it waits or is being sent, or when its target is switched off.
    """
    delivery = (
        HookDelivery.objects.select_for_update(of=("self",))
        .select_related("target")
        .get(pk=delivery_id)
    )
    if not delivery.target.is_active:
        raise WrongStateError("The target is switched off.")
    if delivery.state not in (DeliveryState.SENT, DeliveryState.GIVEN_UP):
        raise WrongStateError("It is on its way already.")
    delivery.state = DeliveryState.WAITING
    delivery.attempts = 0
    delivery.finished_at = None
    delivery.save(update_fields=["state", "attempts", "finished_at"])
    plan(delivery, clock.now())
    return delivery


@transaction.atomic
def replay_range(
    target: HookTarget,
    *,
    since: datetime.datetime,
    until: datetime.datetime,
    only_given_up: bool,
) -> int:
    """Send anew what was written for a target in a span of time; return how many."""
    states = (
        [DeliveryState.GIVEN_UP] if only_given_up else [DeliveryState.GIVEN_UP, DeliveryState.SENT]
    )
    chosen = HookDelivery.objects.filter(
        target=target, created_at__gte=since, created_at__lte=until, state__in=states
    ).order_by("created_at", "pk")
    ids = list(chosen.values_list("pk", flat=True)[:MOST_REPLAYED])
    for delivery_id in ids:
        replay(delivery_id)
    return len(ids)


def purge_old() -> None:
    """Empty old messages but for their hashes, delete old deliveries, forget expired secrets."""
    now = clock.now()
    days = max(KEPT_AT_LEAST_DAYS, settings.HOOK_DAYS)
    before = now - datetime.timedelta(days=days)
    HookMessage.objects.filter(received_at__lt=before).exclude(body="").exclude(
        state=MessageState.WAITING
    ).update(body="", why="", conversation="")
    ended = (DeliveryState.SENT, DeliveryState.GIVEN_UP)
    HookDelivery.objects.filter(created_at__lt=before, state__in=ended).delete()
    for model in (HookSource, HookTarget):
        model.objects.filter(previous_until__lt=now).update(previous_secret="", previous_until=None)
