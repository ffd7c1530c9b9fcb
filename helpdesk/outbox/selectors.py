"""Reading letters and the jobs that carry them."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from helpdesk.cases.models import Case
from helpdesk.core import clock
from helpdesk.core.jobs import list_failing_jobs
from helpdesk.core.models import Job, JobState
from helpdesk.core.paging import KeysetPage, keyset_page
from helpdesk.outbox.models import CLAIM, LINK_MARK, OutgoingMail

PAGE_SIZE = 30
UNSURE = (
    "It may have gone out: it goes again under the same number, which tells programs it is one."
)
MOST_FAILING = 50
MOST_OF_CASE = 300
MASKED_LINK = "[the person’s private page]"
_LINK_LIKE = re.compile(r"\S*/(?:t|how)/[A-Za-z0-9_-]{20,}")


@dataclass(frozen=True)
class Letter:
    """A letter with what became of it."""

    mail: OutgoingMail
    state: str
    error: str = ""

    @property
    def masked_to(self) -> str:
        """Return the address with only its first letter and its domain."""
        return mask_address(self.mail.to)

    @property
    def masked_text(self) -> str:
        """Return the text with the place of the private address named."""
        return _LINK_LIKE.sub(MASKED_LINK, self.mail.text.replace(LINK_MARK, MASKED_LINK))


def list_letters(after: str = "") -> KeysetPage[Letter]:
    """Return a page of letters, newest first, with their states, in two queries."""
    page = keyset_page(
        OutgoingMail.objects.select_related("case"),
        fields=("-created_at", "-id"),
        after=after,
        size=PAGE_SIZE,
    )
    return KeysetPage(rows=_with_states(page.rows), next_after=page.next_after)


def list_case_letters(case: Case) -> list[Letter]:
    """Return the latest letters of a case with their states, oldest first, in two queries."""
    return _with_states(list(OutgoingMail.objects.filter(case=case)[:MOST_OF_CASE]))[::-1]


def get_letter(mail_id: int) -> Letter:
    """Return one letter; raises OutgoingMail.DoesNotExist."""
    return _with_states([OutgoingMail.objects.select_related("case").get(pk=mail_id)])[0]


def list_failing() -> Sequence[Job]:
    """Return the jobs that failed, latest first, no more than fit a page."""
    return list(list_failing_jobs()[:MOST_FAILING])


def mask_address(address: str) -> str:
    """Return a mail address with only the first letter before the @."""
    name, at, domain = address.partition("@")
    return f"{name[:1]}…{at}{domain}" if at else "…"


def _with_states(mails: Sequence[OutgoingMail]) -> list[Letter]:
    jobs = {job.key: job for job in Job.objects.filter(key__in=[_key(mail) for mail in mails])}
    return [_with_state(mail, jobs.get(_key(mail))) for mail in mails]


def _key(mail: OutgoingMail) -> str:
    return f"send-mail:{mail.pk}"


def _with_state(mail: OutgoingMail, job: Job | None) -> Letter:
    if mail.undelivered_at:
        return Letter(mail, "not delivered", mail.undelivered_why)
    if mail.sent_at:
        return Letter(mail, "sent")
    if job and job.state == JobState.FAILED:
        return Letter(mail, "given up", job.last_error)
    if job and job.last_error:
        return Letter(mail, "failing", job.last_error)
    if mail.sending_at and mail.sending_at < clock.now() - CLAIM:
        return Letter(mail, "failing", UNSURE)
    return Letter(mail, "waiting")
