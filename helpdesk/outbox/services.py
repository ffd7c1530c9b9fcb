"""Write letters in the transaction that causes them; send them afterwards."""

import re
from collections.abc import Collection
from dataclasses import dataclass
from email.utils import make_msgid, parseaddr
from functools import partial

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.urls import reverse

from helpdesk.cases.models import AccessLink, Case
from helpdesk.cases.services import issue_link, record_event
from helpdesk.cases.tokens import hash_token
from helpdesk.core import clock
from helpdesk.core.jobs import start_job, without_addresses
from helpdesk.outbox.backend import remove_letter_files
from helpdesk.outbox.composing import compose
from helpdesk.outbox.errors import MailNotSentError
from helpdesk.outbox.marks import hash_address, takes
from helpdesk.outbox.models import (
    CLAIM,
    LINK_MARK,
    AddressMark,
    IncomingId,
    OutgoingMail,
)
from helpdesk.outbox.smtp import hand_over
from helpdesk.outbox.threads import SUBJECT_LIMIT, find_ids, list_thread, reply_subject, shorten

# Control characters, line and paragraph separators, and marks that turn the reading direction.
CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069]+")
WHY_LIMIT = 300
WITHHELD = "Not sent: the address does not work, or its owner wants no such letters."
# Status codes of RFC 3463 that speak of the address itself: 5.0 undefined, 5.1 addressing,
# 5.2.1 mailbox disabled, 5.4.4 no route. A full mailbox or a refused text says nothing of it.
ADDRESS_FAULT = re.compile(r"5\.[01]\.\d{1,3}|5\.2\.1|5\.4\.4")


@dataclass(frozen=True, kw_only=True)
class Letter:
    """A letter before it is written down."""

    kind: str
    to: str
    subject: str
    text: str
    is_automatic: bool = False


@transaction.atomic
def queue_mail(
    case: Case,
    *,
    kind: str,
    subject: str,
    text: str,
    dedupe_key: str,
    is_automatic: bool = False,
) -> OutgoingMail | None:
    """Write a letter to a case's person and the job that sends it.

    Returns None when the person gave no address, or wants no such letters, or when an automatic
    letter would go to an address that is known not to work. The same `dedupe_key` returns the
    letter already written.
    """
    if not case.email or not takes(case.email, kind=kind, is_automatic=is_automatic):
        return None
    letter = Letter(kind=kind, to=case.email, subject=subject, text=text, is_automatic=is_automatic)
    return _write(letter, dedupe_key, case)


@transaction.atomic
def queue_letter(*, kind: str, to: str, subject: str, text: str, dedupe_key: str) -> OutgoingMail:
    """Write a letter to somebody who is no case's person, and the job that sends it.

    It hangs on no case, so it is never shown or copied to a case's person. The same `dedupe_key`
    returns the letter already written.
    """
    return _write(Letter(kind=kind, to=to, subject=subject, text=text), dedupe_key, None)


def _write(letter: Letter, dedupe_key: str, case: Case | None) -> OutgoingMail:
    known = OutgoingMail.objects.filter(dedupe_key=dedupe_key).first()
    if known:
        return known
    mail = OutgoingMail.objects.create(
        case=case,
        kind=letter.kind,
        dedupe_key=dedupe_key,
        to=letter.to,
        subject=clean_line(letter.subject),
        text=letter.text,
        message_id=make_msgid(domain=_own_domain()),
        is_automatic=letter.is_automatic,
        created_at=clock.now(),
    )
    start_job("send-mail", key=f"send-mail:{mail.pk}", payload={"mail": mail.pk})
    return mail


def deliver_mail(mail_id: int) -> None:
    """Send one letter unless it has gone already, or nobody may get it any more.

    The letter is claimed in the database before the dialogue and confirmed after it. A worker that
    dies in between leaves the claim; the letter goes again, under the same Message-ID, once the
    claim has run out and the dead worker can no longer be at it. Raises MailNotSentError when the
    mail server does not take the letter or another worker is at it.
    """
    mail = OutgoingMail.objects.select_related("case").filter(pk=mail_id).first()
    if mail is None or mail.sent_at or mail.undelivered_at:  # erased meanwhile, or done
        return
    if not takes(mail.to, kind=mail.kind, is_automatic=mail.is_automatic):
        _withhold(mail)
        return
    thread = _claim(mail)
    token = issue_link(mail.case) if LINK_MARK in mail.text and mail.case else ""
    text = mail.text.replace(LINK_MARK, private_address(token)) if token else mail.text
    try:
        hand_over(compose(mail, text=text, thread=thread))
    except MailNotSentError as error:
        _take_back(mail, "" if error.is_unsure else token)
        if not ADDRESS_FAULT.fullmatch(error.status):
            raise
        note_undelivered(message_id=mail.message_id, status=error.status, words=str(error))
        return
    confirmed = OutgoingMail.objects.filter(pk=mail_id)
    if not confirmed.update(sent_at=clock.now(), sending_at=None):
        remove_letter_files([mail.message_id])  # its person was erased while it was on its way


@transaction.atomic
def send_again(mail: OutgoingMail) -> OutgoingMail | None:
    """Write a letter that did not arrive once more, to the address the case has now.

    Whoever asks for it vouches for the address, so a mark on it is taken away. Returns None when
    the case has no address; asking twice writes one letter.
    """
    case = mail.case
    if case is None or not case.email:
        return None
    AddressMark.objects.filter(address_hash=hash_address(case.email)).update(
        undeliverable_at=None, why=""
    )
    return queue_mail(
        case,
        kind=mail.kind,
        subject=mail.subject,
        text=mail.text,
        dedupe_key=f"again:{mail.pk}",
        is_automatic=mail.is_automatic,
    )


def set_notices(mark: AddressMark, *, wanted: bool) -> AddressMark:
    """Keep whether an address wants to be asked how it went and told of shows."""
    mark.unsubscribed_at = None if wanted else clock.now()
    mark.save(update_fields=["unsubscribed_at"])
    return mark


def _claim(mail: OutgoingMail) -> list[str]:
    """Mark a letter as being handed over and return the ids before it.

    Raises MailNotSentError while another worker may be at it.
    """
    now = clock.now()
    thread = list_thread(mail)
    subject = reply_subject(mail, thread)
    free = Q(sending_at__isnull=True) | Q(sending_at__lt=now - CLAIM)
    is_mine = OutgoingMail.objects.filter(free, pk=mail.pk, sent_at__isnull=True).update(
        sending_at=now, in_reply_to=thread[-1] if thread else "", subject=subject
    )
    if not is_mine:
        raise MailNotSentError("Another worker is handing this letter over, or died at it.")
    mail.subject = subject
    return thread


def _take_back(mail: OutgoingMail, token: str) -> None:
    """Free a letter for the next attempt; a private address nobody got opens nothing."""
    OutgoingMail.objects.filter(pk=mail.pk).update(sending_at=None)
    if token:
        AccessLink.objects.filter(token_hash=hash_token(token)).delete()


def _withhold(mail: OutgoingMail) -> None:
    """Keep back a letter whose address was marked after it was written."""
    OutgoingMail.objects.filter(pk=mail.pk).update(
        undelivered_at=clock.now(), undelivered_why=WITHHELD
    )


@transaction.atomic
def note_incoming(
    case: Case, message_id: str, references: str = "", subject: str = ""
) -> IncomingId | None:
    """Keep the id of a mail about a case, so that the desk's next letter threads below it.

    `references` is the mail's References header, or its In-Reply-To where there is none. Returns
    None when the mail has no usable id; the same mail twice is kept once.
    """
    own = find_ids(message_id)
    if not own:
        return None
    values = {
        "references": " ".join(shorten(find_ids(references))),
        "subject": clean_line(subject),
        "noted_at": clock.now(),
    }
    noted, _ = IncomingId.objects.get_or_create(case=case, message_id=own[0], defaults=values)
    return noted


@transaction.atomic
def note_undelivered(
    *,
    message_id: str = "",
    address: str = "",
    status: str = "",
    words: str = "",
    case: Case | None = None,
) -> OutgoingMail | None:
    """Note that a letter did not arrive; return it, or None when it was none of the desk's.

    `message_id` is that of the letter sent back; where a report does not hold it, the `case` whose
    signed address the report came to and the `address` it speaks of find the latest letter.
    `status` is the code of RFC 3463; a code that condemns the address stops automatic letters to
    it. Call it for failures only: a report of a delay is none.
    """
    mail = _find_letter(message_id, address, case)
    if mail is None or mail.undelivered_at:
        return mail
    now = clock.now()
    mail.undelivered_at = now
    clean_words = CONTROL.sub(" ", f"{status} {words}").strip()
    mail.undelivered_why = without_addresses(clean_words)[:WHY_LIMIT]
    mail.save(update_fields=["undelivered_at", "undelivered_why"])
    if ADDRESS_FAULT.fullmatch(status.strip()):
        AddressMark.objects.update_or_create(
            address_hash=hash_address(mail.to),
            defaults={"undeliverable_at": now, "why": mail.undelivered_why},
        )
    if mail.case:
        record_event(
            mail.case,
            kind="undelivered",
            what=f"Not delivered: {mail.get_kind_display()}",
            why=mail.undelivered_why,
            data={"mail": mail.pk, "status": status.strip()[:20]},
            at=now,
        )
    return mail


def _find_letter(message_id: str, address: str, case: Case | None) -> OutgoingMail | None:
    """Return the letter a report of failure speaks of."""
    letters = OutgoingMail.objects.select_related("case").select_for_update(of=("self",))
    for known in find_ids(message_id):
        if letter := letters.filter(message_id=known).first():
            return letter
    if case is None or not address:
        return None
    return letters.filter(
        case=case, to__iexact=parseaddr(address)[1], sent_at__isnull=False
    ).first()


@transaction.atomic
def drop_letters(mail_ids: Collection[int]) -> int:
    """Delete letters to others than a case's person, and their files; return how many rows."""
    mails = OutgoingMail.objects.filter(pk__in=mail_ids)
    message_ids = list(mails.values_list("message_id", flat=True))
    transaction.on_commit(partial(remove_letter_files, message_ids))
    return mails.delete()[0]


@transaction.atomic
def erase_letters(case: Case) -> int:
    """Delete a case's letters, and their files in the outbox folder; return how many rows.

    What a mail server said of the address goes too; the wish for no notices stays, as a hash.
    """
    mails = OutgoingMail.objects.filter(case=case)
    message_ids = list(mails.values_list("message_id", flat=True))
    transaction.on_commit(partial(remove_letter_files, message_ids))
    addresses = {*mails.values_list("to", flat=True), case.email} - {""}
    AddressMark.objects.filter(address_hash__in=map(hash_address, addresses)).update(
        undeliverable_at=None, why=""
    )
    IncomingId.objects.filter(case=case).delete()
    return mails.delete()[0]


def private_address(token: str) -> str:
    """Return the whole address of a private page, from the configured origin."""
    return settings.DESK_ADDRESS.rstrip("/") + reverse("intake:track", args=[token])


def clean_line(text: str) -> str:
    """Return a text fit for a header: one line, no control characters, not too long."""
    return CONTROL.sub(" ", text).strip()[:SUBJECT_LIMIT]


def _own_domain() -> str:
    """Return the domain letters are sent from."""
    return parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2]
