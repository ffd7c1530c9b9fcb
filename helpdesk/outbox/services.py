"""Write letters in the transaction that causes them; send them afterwards."""

import re
import smtplib
from email.utils import make_msgid, parseaddr
from functools import partial

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.db import transaction
from django.urls import reverse

from helpdesk.cases.models import AccessLink, Case
from helpdesk.cases.services import issue_link, record_event
from helpdesk.cases.tokens import hash_token
from helpdesk.core import clock
from helpdesk.core.jobs import start_job
from helpdesk.outbox.backend import remove_letter_files
from helpdesk.outbox.errors import MailNotSentError
from helpdesk.outbox.marks import hash_address, takes
from helpdesk.outbox.models import (
    LINK_MARK,
    AddressMark,
    IncomingId,
    MailKind,
    OutgoingMail,
)
from helpdesk.outbox.threads import find_ids, shorten

# Control characters, line and paragraph separators, and marks that turn the reading direction.
CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069]+")
SUBJECT_LIMIT = 150
WHY_LIMIT = 300
# Status codes of RFC 3463 that speak of the address itself: 5.0 undefined, 5.1 addressing,
# 5.2.1 mailbox disabled, 5.4.4 no route. A full mailbox or a refused text says nothing of it.
ADDRESS_FAULT = re.compile(r"5\.[01]\.\d{1,3}|5\.2\.1|5\.4\.4")
_ADDRESS = re.compile(r"[^\s@<>()'\"]+@[^\s@<>()'\"]+")


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
    known = OutgoingMail.objects.filter(dedupe_key=dedupe_key).first()
    if known:
        return known
    previous = OutgoingMail.objects.filter(case=case).order_by("-created_at", "-pk").first()
    mail = OutgoingMail.objects.create(
        case=case,
        kind=kind,
        dedupe_key=dedupe_key,
        to=case.email,
        subject=clean_line(subject),
        text=text,
        message_id=make_msgid(domain=_own_domain()),
        in_reply_to=previous.message_id if previous else "",
        is_automatic=is_automatic,
        created_at=clock.now(),
    )
    start_job("send-mail", key=f"send-mail:{mail.pk}", payload={"mail": mail.pk})
    return mail


def deliver_mail(mail_id: int) -> None:
    """Send one letter unless it has gone already.

    Raises MailNotSentError when the mail server does not take it.
    """
    mail = OutgoingMail.objects.select_related("case").filter(pk=mail_id).first()
    if mail is None or mail.sent_at:  # erased meanwhile, or done before a crash
        return
    token = issue_link(mail.case) if LINK_MARK in mail.text and mail.case else ""
    text = mail.text.replace(LINK_MARK, private_address(token)) if token else mail.text
    message = EmailMessage(subject=mail.subject, body=text, to=[mail.to], headers=_headers(mail))
    try:
        with get_connection() as connection:  # closes the socket when a greeting fails, too
            connection.send_messages([message])
    except (smtplib.SMTPException, OSError) as error:
        if token:  # nobody got this address, so it opens nothing
            AccessLink.objects.filter(token_hash=hash_token(token)).delete()
        # From None: the server's words may name the person and would stand in the log.
        raise MailNotSentError(_describe(error)) from None
    if not OutgoingMail.objects.filter(pk=mail_id).update(sent_at=clock.now()):
        remove_letter_files([mail.message_id])  # its person was erased while it was on its way


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
    mail.undelivered_why = _without_addresses(f"{status} {words}")
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


def _without_addresses(words: str) -> str:
    """Return a mail server's words on one line, without the addresses they name."""
    line = CONTROL.sub(" ", words).strip()
    return _ADDRESS.sub("(an address)", line)[:WHY_LIMIT]


@transaction.atomic
def erase_letters(case: Case) -> int:
    """Delete a case's letters, and their files in the outbox folder; return how many rows."""
    mails = OutgoingMail.objects.filter(case=case)
    message_ids = list(mails.values_list("message_id", flat=True))
    transaction.on_commit(partial(remove_letter_files, message_ids))
    IncomingId.objects.filter(case=case).delete()
    return mails.delete()[0]


def _headers(mail: OutgoingMail) -> dict[str, str]:
    """Return the headers that tie a letter to its thread and keep machines from answering it."""
    headers = {"Message-ID": mail.message_id}
    if mail.in_reply_to:
        earlier = OutgoingMail.objects.filter(case=mail.case_id, pk__lt=mail.pk)
        known = earlier.order_by("created_at", "pk").values_list("message_id", flat=True)
        thread = shorten(list(dict.fromkeys([*known, mail.in_reply_to])))
        headers |= {"In-Reply-To": mail.in_reply_to, "References": " ".join(thread)}
    if mail.is_automatic:  # RFC 3834 section 5: no responder shall answer it
        headers["Auto-Submitted"] = (
            "auto-replied" if mail.kind == MailKind.RECEIPT else "auto-generated"
        )
    return headers


def _describe(error: Exception) -> str:
    """Return a mail server's refusal without the address it names."""
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        code, words = next(iter(error.recipients.values()))
        return f"The mail server refused the recipient: {code} {_decode(words)}"
    if isinstance(error, smtplib.SMTPResponseException):
        return f"The mail server answered {error.smtp_code} {_decode(error.smtp_error)}"
    return f"The mail server could not be used: {type(error).__name__} {error}"


def _decode(words: bytes | str) -> str:
    return words.decode(errors="replace") if isinstance(words, bytes) else words


def private_address(token: str) -> str:
    """Return the whole address of a private page, from the configured origin."""
    return settings.DESK_ADDRESS.rstrip("/") + reverse("intake:track", args=[token])


def clean_line(text: str) -> str:
    """Return a text fit for a header: one line, no control characters, not too long."""
    return CONTROL.sub(" ", text).strip()[:SUBJECT_LIMIT]


def _own_domain() -> str:
    """Return the domain letters are sent from."""
    return parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2]
