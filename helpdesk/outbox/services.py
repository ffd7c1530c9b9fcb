"""Write letters in the transaction that causes them; send them afterwards."""

import re
from email.utils import make_msgid, parseaddr

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction
from django.urls import reverse

from helpdesk.cases.models import Case
from helpdesk.cases.services import issue_link
from helpdesk.core import clock
from helpdesk.core.jobs import start_job
from helpdesk.outbox.models import OutgoingMail

LINK_MARK = "{private_link}"
CONTROL = re.compile(r"[\x00-\x1f\x7f]+")
SUBJECT_LIMIT = 150


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
    """Send one letter unless it has gone already; raises what the mail server raises."""
    mail = OutgoingMail.objects.select_related("case").filter(pk=mail_id).first()
    if mail is None or mail.sent_at:  # erased meanwhile, or done before a crash
        return
    text = mail.text
    if LINK_MARK in text and mail.case:
        text = text.replace(LINK_MARK, private_address(issue_link(mail.case)))
    headers = {"Message-ID": mail.message_id}
    if mail.in_reply_to:
        headers |= {"In-Reply-To": mail.in_reply_to, "References": mail.in_reply_to}
    if mail.is_automatic:  # RFC 3834 section 5: no responder shall answer it
        headers["Auto-Submitted"] = "auto-generated"
    EmailMessage(subject=mail.subject, body=text, to=[mail.to], headers=headers).send()
    OutgoingMail.objects.filter(pk=mail_id).update(sent_at=clock.now())


def private_address(token: str) -> str:
    """Return the whole address of a private page, from the configured origin."""
    return settings.DESK_ADDRESS.rstrip("/") + reverse("intake:track", args=[token])


def clean_line(text: str) -> str:
    """Return a text fit for a header: one line, no control characters, not too long."""
    return CONTROL.sub(" ", text).strip()[:SUBJECT_LIMIT]


def _own_domain() -> str:
    """Return the domain letters are sent from."""
    return parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2]
