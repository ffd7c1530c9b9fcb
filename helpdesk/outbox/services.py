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
from helpdesk.cases.services import issue_link
from helpdesk.cases.tokens import hash_token
from helpdesk.core import clock
from helpdesk.core.jobs import start_job
from helpdesk.outbox.backend import remove_letter_files
from helpdesk.outbox.errors import MailNotSentError
from helpdesk.outbox.models import LINK_MARK, MailKind, OutgoingMail

# Control characters, line and paragraph separators, and marks that turn the reading direction.
CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069]+")
SUBJECT_LIMIT = 150
MOST_REFERENCES = 20  # keeps the header far below the line limit of RFC 5322


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

    Returns None when the person gave no address. The same `dedupe_key` returns the letter already
    written.
    """
    if not case.email:
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
def erase_letters(case: Case) -> int:
    """Delete a case's letters, and their files in the outbox folder; return how many rows."""
    mails = OutgoingMail.objects.filter(case=case)
    message_ids = list(mails.values_list("message_id", flat=True))
    transaction.on_commit(partial(remove_letter_files, message_ids))
    return mails.delete()[0]


def _headers(mail: OutgoingMail) -> dict[str, str]:
    """Return the headers that tie a letter to its thread and keep machines from answering it."""
    headers = {"Message-ID": mail.message_id}
    if mail.in_reply_to:
        earlier = OutgoingMail.objects.filter(case=mail.case_id, pk__lt=mail.pk)
        known = earlier.order_by("created_at", "pk").values_list("message_id", flat=True)
        thread = list(dict.fromkeys([*known, mail.in_reply_to]))[-MOST_REFERENCES:]
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
