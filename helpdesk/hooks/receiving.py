"""Taking what another program posts: one row and one job, in one transaction, then yes.

What messages ask for is done by the job, one for all that wait: so the sender waits only until its
message is kept for certain, and a process killed at any moment leaves either nothing, and the
sender sends again, or the row, and the job is done later.
"""

import hashlib
import time
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.db import IntegrityError

from helpdesk.core import clock
from helpdesk.core.http import storable
from helpdesk.core.jobs import start_job
from helpdesk.core.limits import HOUR_S, Limit, seconds_until_room, spend
from helpdesk.core.models import Job, JobState
from helpdesk.hooks.errors import BadMessageError, BusyError, Fault, IdReusedError, TooOftenError
from helpdesk.hooks.models import HookConversation, HookMessage, HookSource, MessageState
from helpdesk.hooks.payloads import read_message
from helpdesk.hooks.schemas import REPORT_CREATED
from helpdesk.hooks.together import Together

HOOKS = Limit("hooks", HOUR_S)
TAKING = "take-hook-messages"
BLOCK = 20  # messages that a process takes from a source's bucket at once
BACKLOG_WAIT_S = 60
BACKLOG_LOOK_S = 1.0  # the backlog is counted no more often than this


@dataclass
class _Backlog:
    """Whether too much waits, as it was found when last looked at."""

    is_full: bool = False
    looked_at: float = -BACKLOG_LOOK_S


_backlog = _Backlog()
_allowance: dict[str, int] = {}  # what this process has taken of each source's bucket, and not used


def receive(source: HookSource, message_id: str, body: bytes) -> bool:
    """Keep a signed message for its job; False when this very message was kept before.

    Raises IdReusedError, BusyError, and what `read_message` raises.
    """
    id_hash, body_hash = (_sum(part) for part in (message_id.encode(), body))
    if _was_kept(source, id_hash, body_hash):
        return False
    message = read_message(body)
    data = message["data"]
    conversation = storable(data.get("conversation", "")).strip()
    if message["type"] != REPORT_CREATED:
        _check_place(source, conversation, data.get("case"))
    _check_backlog()
    new = HookMessage(
        source=source,
        id_hash=id_hash,
        body_hash=body_hash,
        kind=message["type"],
        conversation=conversation,
        body=storable(body.decode()),
        received_at=clock.now(),
    )
    try:
        _together.do(new)
    except IntegrityError:  # the same message came twice at once and the other was first
        return not _was_kept(source, id_hash, body_hash)
    return True


def _keep(message: HookMessage) -> None:
    """Write a message and see that a job takes it; raises IntegrityError when it is there."""
    _check_room(message.source)
    message.save(force_insert=True)
    _plan_taking(message.pk)


def _was_kept(source: HookSource, id_hash: str, body_hash: str) -> bool:
    """Return whether a message is there already; raises IdReusedError when its body was another."""
    known = (
        HookMessage.objects.filter(source=source, id_hash=id_hash)
        .values_list("body_hash", flat=True)
        .first()
    )
    if known is None:
        return False
    if known != body_hash:
        raise IdReusedError("This webhook-id came before with another body.")
    return True


def _check_place(source: HookSource, conversation: str, case: Any) -> None:
    """Refuse what belongs to no conversation of this source, be its report taken yet or not."""
    known = HookConversation.objects.filter(source=source)
    if conversation:
        is_there = (
            known.filter(name=conversation).exists()
            or HookMessage.objects.filter(
                source=source, conversation=conversation, kind=REPORT_CREATED
            )
            .exclude(state=MessageState.REFUSED)
            .exists()
        )
        pointer = "/data/conversation"
    else:
        is_there = known.filter(case=int(case)).exists()
        pointer = "/data/case"
    if not is_there:
        raise BadMessageError([Fault(pointer, "The desk has no report of this source under it.")])


def _plan_taking(message_id: int) -> None:
    """Make sure that a job takes what waits, the message just written among it.

    One that waits will see the message: nobody can begin it before this transaction has ended,
    on SQLite because there is one writer, on PostgreSQL because its row is locked here.
    """
    waiting = Job.objects.select_for_update().filter(kind=TAKING, state=JobState.WAITING)
    if not waiting.filter(run_after__lte=clock.now()).values_list("pk")[:1]:
        start_job(TAKING, key=f"{TAKING}:{message_id}", payload={})


def _check_room(source: HookSource) -> None:
    """Raise TooOftenError for a source that sends too much."""
    who = source.public_id
    if _allowance.get(who, 0) > 0:
        _allowance[who] -= 1
        return
    block = max(1, min(BLOCK, HOOKS.most // 100))
    if block > 1 and spend(HOOKS, who, count=block):
        _allowance[who] = block - 1
    elif not spend(HOOKS, who):
        wait_s = seconds_until_room(HOOKS, who)
        raise TooOftenError("This source has sent too much.", wait_s=wait_s)


def _check_backlog() -> None:
    """Raise BusyError when too much waits."""
    now = time.monotonic()
    if now - _backlog.looked_at >= BACKLOG_LOOK_S:
        _backlog.looked_at = now
        _backlog.is_full = _is_full()
    if _backlog.is_full:
        raise BusyError("Too many messages wait to be taken.", wait_s=BACKLOG_WAIT_S)


def _is_full() -> bool:
    most = settings.HOOK_BACKLOG
    waiting = HookMessage.objects.filter(state=MessageState.WAITING).order_by("pk")
    return bool(most and waiting.values_list("pk")[most : most + 1].exists())


def _sum(value: bytes) -> str:
    return hashlib.sha256(value).hexdigest()


_together = Together(_keep)
