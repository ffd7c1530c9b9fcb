"""Read the mailboxes now and then: one process at a time, each letter kept before it is marked."""

import datetime
import logging
from typing import Protocol

from django.db import transaction
from django.db.models import Q

from helpdesk.core import clock
from helpdesk.mailroom import imap, pop
from helpdesk.mailroom.errors import LetterRefusedError, MailboxError
from helpdesk.mailroom.mailboxes import MailboxSettings, list_settings
from helpdesk.mailroom.models import IncomingMail, Mailbox, SeenLetter

LEASE = datetime.timedelta(minutes=8)  # above the worker's hard limit of five minutes
MOST_FORGOTTEN = 500  # ids of letters that left the server, in one round


class TakeIn(Protocol):
    """Keeps a fetched letter and plans what becomes of it."""

    def __call__(self, raw: bytes, *, origin: str, is_head: bool) -> IncomingMail:
        """Return the letter's row once it is safe."""


logger = logging.getLogger(__name__)


def poll_mailboxes(take_in: TakeIn) -> int:
    """Read every mailbox of the settings; return how many letters came.

    `take_in` is services.receive_and_plan: it returns once a letter is safe.

    One that fails is noted for the page and does not keep the others waiting.
    """
    return sum(poll_mailbox(box, take_in) for box in list_settings())


def poll_mailbox(box: MailboxSettings, take_in: TakeIn) -> int:
    """Read one mailbox unless another process does; return how many letters came."""
    row, _ = Mailbox.objects.get_or_create(name=box.name)
    if not _claim(row):
        return 0
    row.refresh_from_db()
    came: list[int] = []
    try:
        if box.is_imap:
            _read_imap(box, row, take_in, came)
        else:
            _read_pop(box, row, take_in, came)
    except MailboxError as error:
        logger.warning("The mailbox %s could not be read: %s", box.name, error)
        row.last_error = str(error)[:300]
        row.failed_since = row.failed_since or clock.now()
    else:
        row.last_error, row.failed_since = "", None
    row.lease_until, row.polled_at = None, clock.now()
    row.save()
    return len(came)


def _claim(row: Mailbox) -> bool:
    """Take a mailbox for this process; a lease that ran out belongs to a killed one."""
    now = clock.now()
    free = Q(lease_until__isnull=True) | Q(lease_until__lt=now)
    return bool(Mailbox.objects.filter(free, pk=row.pk).update(lease_until=now + LEASE))


def _read_imap(box: MailboxSettings, row: Mailbox, take_in: TakeIn, came: list[int]) -> None:
    def keep(raw: bytes, is_head: bool) -> None:
        _keep(box, raw, is_head, take_in, came)

    position = imap.Position(row.uid_validity, row.last_uid)
    reached = imap.fetch_letters(box, position, keep)
    row.uid_validity, row.last_uid = reached.uid_validity, reached.last_uid


def _read_pop(box: MailboxSettings, row: Mailbox, take_in: TakeIn, came: list[int]) -> None:
    def keep(uid: str, raw: bytes, is_head: bool) -> None:
        with transaction.atomic():
            _keep(box, raw, is_head, take_in, came)
            SeenLetter.objects.get_or_create(mailbox=row, uid=uid[:70])

    seen = set(row.seen.values_list("uid", flat=True))
    there = pop.fetch_letters(box, seen, keep)
    row.seen.filter(uid__in=sorted(seen - there)[:MOST_FORGOTTEN]).delete()


def _keep(
    box: MailboxSettings, raw: bytes, is_head: bool, take_in: TakeIn, came: list[int]
) -> None:
    """Keep one letter with its job; an empty one is passed over."""
    try:
        came.append(take_in(raw, origin=box.name, is_head=is_head).pk)
    except LetterRefusedError as error:
        logger.warning("A letter of %s was passed over: %s", box.name, error)
