"""Sending what other programs want to hear of, until they have said yes, or for three days.

A delivery is claimed in the database, sent, and marked. A process killed between the receiver's
yes and the mark sends it again, with the same id, by which the receiver knows it. Nothing but a
2xx is a yes; times and rules are those of the Standard Webhooks specification.
"""

import datetime
import logging
import random
import re
from dataclasses import dataclass
from email.utils import parsedate_to_datetime
from http import HTTPStatus

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction
from django.urls import reverse
from django.utils.crypto import salted_hmac

from helpdesk.accounts.models import User
from helpdesk.accounts.roles import RUN_DESK
from helpdesk.cases.models import AccessLink, Case
from helpdesk.cases.services import issue_link
from helpdesk.cases.tokens import hash_token
from helpdesk.core import clock
from helpdesk.core.jobs import start_job
from helpdesk.hooks.announcing import plan
from helpdesk.hooks.errors import StillSendingError
from helpdesk.hooks.models import DeliveryState, HookDelivery, HookTarget
from helpdesk.hooks.signing import make_headers, read_secret
from helpdesk.incoming.fetching import Answer, RefusedAddressError, UnreachableError, send
from helpdesk.outbox.models import LINK_MARK
from helpdesk.outbox.services import private_address

# Pauses after each try, in seconds: ten tries over 75 h 35 min, as the specification has them.
PAUSES_S = (5, 300, 1800, 7200, 18_000, 36_000, 50_400, 72_000, 86_400)
MOST_TRIES = len(PAUSES_S) + 1
JITTER = 0.1  # of a pause, on top of it
ANSWER_S = 20.0  # the specification: 15 to 30
HOLD = datetime.timedelta(seconds=90)  # above the time an answer may take
MOST_ANSWER_BYTES = 1 << 20
WORDS_CHARS = 300
LONGEST_WAIT_S = 86_400
SHORTEST_WAIT_S = 60
SLOW_DOWN = frozenset(
    {
        HTTPStatus.TOO_MANY_REQUESTS,
        HTTPStatus.BAD_GATEWAY,
        HTTPStatus.SERVICE_UNAVAILABLE,
        HTTPStatus.GATEWAY_TIMEOUT,
    }
)
_SECRET_LIKE = re.compile(r"whsec_[\w+/=-]+|\S*/t/[\w-]{20,}")
logger = logging.getLogger(__name__)


@dataclass(frozen=True)
class Outcome:
    """What came of one try: the status, 0 for none, and what was said."""

    status: int
    words: str
    wait_s: int = 0  # how long the receiver asked to be left alone

    @property
    def is_yes(self) -> bool:
        """Return whether the receiver has the message."""
        return HTTPStatus.OK <= self.status < HTTPStatus.MULTIPLE_CHOICES


def deliver(delivery_id: int) -> None:
    """Try a delivery once and note what came of it.

    Raises StillSendingError while another process may be sending it.
    """
    delivery = _claim(delivery_id)
    if delivery is None:
        return
    _finish(delivery, _try(delivery))


def tell_of_stop(target_id: int) -> None:
    """Write to the people who run the desk that a target is told nothing any more."""
    target = HookTarget.objects.filter(pk=target_id, is_active=False).first()
    people = User.objects.with_perm(
        RUN_DESK, include_superusers=True, backend="django.contrib.auth.backends.ModelBackend"
    )
    addresses = sorted({user.email for user in people if user.is_active and user.email})
    if target is None or not addresses:
        return
    page = settings.DESK_ADDRESS.rstrip("/") + reverse("hooks:target", args=[target.pk])
    text = (
        f"The desk no longer sends messages to “{target.name}”.\n\n{target.stopped_why}\n\n"
        f"What was not delivered can be sent again here:\n{page}\n"
    )
    subject = f"Hook stopped: {target.name}"
    headers = {"Auto-Submitted": "auto-generated"}  # RFC 3834
    for address in addresses:
        EmailMessage(subject=subject, body=text, to=[address], headers=headers).send()


def _claim(delivery_id: int) -> HookDelivery | None:
    """Take a delivery for this process; None when nothing is to be done."""
    with transaction.atomic():
        delivery = (
            HookDelivery.objects.select_for_update(of=("self",))
            .select_related("target", "case")
            .filter(pk=delivery_id)
            .first()
        )
        now = clock.now()
        if delivery is None or delivery.state in (DeliveryState.SENT, DeliveryState.GIVEN_UP):
            return None
        if delivery.state == DeliveryState.SENDING and (delivery.held_until or now) > now:
            raise StillSendingError(f"Delivery {delivery.pk} is held.")
        target = delivery.target
        if not target.is_active:
            _give_up(delivery, "The target is switched off.")
            return None
        if target.not_before and target.not_before > now:
            plan(delivery, target.not_before)
            return None
        delivery.state = DeliveryState.SENDING
        delivery.held_until = now + HOLD
        delivery.attempts += 1
        delivery.save(update_fields=["state", "held_until", "attempts"])
    return delivery


def _try(delivery: HookDelivery) -> Outcome:
    """Send a delivery once, outside any transaction."""
    target = delivery.target
    body = write_out(delivery).encode()
    now = clock.now()
    headers = make_headers(
        keys_of(target, now),
        message_id=delivery.webhook_id,
        timestamp=int(now.timestamp()),
        body=body,
    )
    headers["Content-Type"] = "application/json"
    try:
        answer = send(
            target.url,
            method="POST",
            headers=headers,
            body=body,
            max_bytes=MOST_ANSWER_BYTES,
            total_s=ANSWER_S,
        )
    except (UnreachableError, RefusedAddressError) as error:
        return Outcome(0, str(error)[:WORDS_CHARS])
    return Outcome(answer.status, excerpt(answer), wait_of(answer))


@transaction.atomic
def _finish(delivery: HookDelivery, outcome: Outcome) -> None:
    """Note what came of a try, and plan the next one or end it."""
    now = clock.now()
    held = HookDelivery.objects.select_for_update().filter(
        pk=delivery.pk, state=DeliveryState.SENDING, attempts=delivery.attempts
    )
    if not held.exists():  # erased meanwhile, or taken over by another process
        return
    delivery.last_status = outcome.status or None
    delivery.last_words = outcome.words
    delivery.held_until = None
    target = HookTarget.objects.select_for_update().get(pk=delivery.target_id)
    if outcome.is_yes:
        delivery.state, delivery.finished_at = DeliveryState.SENT, now
        target.failing_since = target.not_before = None
    else:
        delivery.state = DeliveryState.WAITING
        target.failing_since = target.failing_since or now
    delivery.save(update_fields=["state", "last_status", "last_words", "held_until", "finished_at"])
    target.save(update_fields=["failing_since", "not_before"])
    if not outcome.is_yes:
        _after_no(delivery, target, outcome, now)


def _after_no(
    delivery: HookDelivery, target: HookTarget, outcome: Outcome, now: datetime.datetime
) -> None:
    """Plan the next try after a failed one, or stop."""
    if outcome.status == HTTPStatus.GONE:
        _give_up(delivery, outcome.words)
        stop(target, "Its server says that nothing is taken there any more (410).")
        return
    if delivery.attempts >= MOST_TRIES:
        _give_up(delivery, outcome.words)
        stop(target, f"{MOST_TRIES} tries failed. The last one: {_say(outcome)}")
        return
    spread = 1 + random.uniform(0, JITTER)  # noqa: S311 - spreads the load, guards nothing
    due_at = now + datetime.timedelta(seconds=PAUSES_S[delivery.attempts - 1] * spread)
    if outcome.status in SLOW_DOWN:
        wait_s = max(outcome.wait_s, SHORTEST_WAIT_S)
        target.not_before = now + datetime.timedelta(seconds=wait_s)
        target.save(update_fields=["not_before"])
        due_at = max(due_at, target.not_before)
    plan(delivery, due_at)


def stop(target: HookTarget, why: str) -> None:
    """Switch a target off and have it told to the people who run the desk."""
    logger.error("Hook target %s is switched off: %s", target.pk, why)
    is_new = HookTarget.objects.filter(pk=target.pk, is_active=True).update(
        is_active=False, stopped_why=why[:WORDS_CHARS]
    )
    if is_new:
        moment = int(clock.now().timestamp())
        start_job(
            "tell-hook-stop",
            key=f"tell-hook-stop:{target.pk}:{moment}",
            payload={"target": target.pk},
        )


def write_out(delivery: HookDelivery) -> str:
    """Return a delivery's body as it is sent, with the private address where it has one."""
    if LINK_MARK not in delivery.body or delivery.case is None:
        return delivery.body
    return delivery.body.replace(LINK_MARK, private_address(_link_of(delivery, delivery.case)))


def _link_of(delivery: HookDelivery, case: Case) -> str:
    """Return the token of a delivery's private address: the same at every try, and kept as a hash.

    It is derived from the desk's key, so a resent message has the very body of the first.
    """
    token = salted_hmac("helpdesk.hooks.link", delivery.webhook_id, algorithm="sha256").hexdigest()
    if not AccessLink.objects.filter(token_hash=hash_token(token)).exists():
        issue_link(case, token=token)
    return token


def keys_of(target: HookTarget, now: datetime.datetime) -> list[bytes]:
    """Return the secrets a target's messages are signed with now."""
    texts = [target.secret]
    if target.previous_secret and target.previous_until and target.previous_until > now:
        texts.append(target.previous_secret)
    return [read_secret(text) for text in texts]


def excerpt(answer: Answer) -> str:
    """Return the beginning of an answer on one line, without what looks like a secret or a link."""
    text = answer.body[: 4 * WORDS_CHARS].decode(errors="replace")
    return _SECRET_LIKE.sub("(left out)", " ".join(text.split()))[:WORDS_CHARS].replace("\x00", "")


def wait_of(answer: Answer) -> int:
    """Return the seconds a receiver asks to wait (Retry-After, RFC 9110 section 10.2.3)."""
    text = answer.headers.get("retry-after", "").strip()
    if text.isascii() and text.isdecimal():
        return min(int(text[:9]), LONGEST_WAIT_S)
    try:
        until = parsedate_to_datetime(text)
    except ValueError:
        return 0
    if until.tzinfo is None:
        until = until.replace(tzinfo=datetime.UTC)
    return int(min(max(0.0, (until - clock.now()).total_seconds()), LONGEST_WAIT_S))


def _give_up(delivery: HookDelivery, words: str) -> None:
    HookDelivery.objects.filter(pk=delivery.pk).update(
        state=DeliveryState.GIVEN_UP,
        finished_at=clock.now(),
        last_words=words[:WORDS_CHARS],
        held_until=None,
    )


def _say(outcome: Outcome) -> str:
    return f"status {outcome.status}." if outcome.status else outcome.words
