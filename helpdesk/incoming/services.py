"""Take reports and replies, whatever channel brings them. Each function is one transaction.

A channel turns what it received into plain values and calls one of these. The key names what came
(a form, a letter, a hook's id): the same key twice has one effect, so a channel that was killed
half-way simply hands over again.
"""

from collections.abc import Callable, Iterable

from django.conf import settings
from django.core.files.base import ContentFile
from django.db import transaction
from django.template.loader import render_to_string
from django.urls import reverse

from helpdesk.cases.models import Case, CaseState, Channel, Message, MessageKind
from helpdesk.cases.services import (
    NewReport,
    add_message,
    change_state,
    open_case,
    record_event,
    request_comparison,
    request_diagnosis,
)
from helpdesk.core.errors import WrongStateError
from helpdesk.core.storage import named
from helpdesk.incoming.attachments import keep_attachments
from helpdesk.incoming.values import Attachment, Kept, TakenReply, TakenReport
from helpdesk.outbox.models import MailKind
from helpdesk.outbox.services import queue_mail


@transaction.atomic
def take_report(
    new: NewReport, attachments: Iterable[Attachment] = (), *, acknowledges: bool = True
) -> TakenReport:
    """Open a case for what a channel brought, keep its files and acknowledge it once."""
    case, is_new = open_case(new)
    if not is_new:
        return TakenReport(case=case, is_new=False)
    kept = keep_attachments(case, attachments, keeps_originals=new.keeps_originals)
    note_refusals(case, kept)
    if acknowledges:
        send_receipt(case)
    return TakenReport(case=case, is_new=True, kept=kept)


@transaction.atomic
def take_reply(
    case_id: int,
    *,
    key: str,
    words: str,
    channel: str,
    attachments: Iterable[Attachment] = (),
    author_name: str = "",
) -> TakenReply:
    """Keep a reply to a case with its files; the case is the desk's turn again.

    Raises WrongStateError when the person had everything erased.
    """

    def keep(case: Case) -> Kept:
        report = case.reports.first()
        return keep_attachments(
            case,
            attachments,
            keeps_originals=bool(report and report.keeps_originals),
            from_follow_up=True,
        )

    case = lock_case(case_id)
    taken = keep_reply(
        case, key=key, words=words, channel=channel, author_name=author_name, keep=keep
    )
    if taken.message:
        pass_to_desk(case, taken.message)
    return taken


def keep_reply(
    case: Case,
    *,
    key: str,
    words: str,
    channel: str = Channel.WEB,
    author_name: str = "",
    keep: Callable[[Case], Kept],
) -> TakenReply:
    """Write a reply to a locked case; `keep` stores its files and is called for a new one only."""
    if case.events.filter(kind="reply", data__key=key).exists():
        return TakenReply(message=None, is_new=False)
    kept = keep(case)
    note_refusals(case, kept)
    author = author_name or case.person
    message = add_message(
        case, kind=MessageKind.REPLY, body=words, author_name=author, channel=channel
    )
    record_event(
        case,
        kind="reply",
        what="Reply" + _describe(kept),
        actor_name=author,
        data={"key": key, "message": message.pk},
    )
    return TakenReply(message=message, is_new=True, kept=kept)


def pass_to_desk(case: Case, message: Message) -> None:
    """Make it the desk's turn after a reply, and let the engine look again."""
    case.refresh_from_db()
    change_state(case, CaseState.RECEIVED, actor_name=message.author_name, why="A reply came")
    request_diagnosis(case, cause="a reply came", key=f"reply:{message.pk}")
    request_comparison(case, key=f"reply:{message.pk}")


def lock_case(case_id: int) -> Case:
    """Return a case for writing; raises WrongStateError when it was erased meanwhile."""
    case = Case.objects.select_for_update().get(pk=case_id)
    if case.erased_at:
        raise WrongStateError("This case was erased.")
    return case


def note_refusals(case: Case, kept: Kept) -> None:
    """Write into the history which files were not kept and why."""
    if kept.refusals:
        count = len(kept.refusals)
        what = f"{count} files were not kept" if count > 1 else "A file was not kept"
        record_event(case, kind="attachment", what=what, why="\n".join(kept.refusals))


def keep_fetched(
    case: Case,
    *,
    label: str,
    alt_text: str,
    content: bytes,
    refusal: str,
    from_follow_up: bool,
) -> Kept:
    """Keep a picture that was fetched for a locked case, or write why it was not (`refusal`)."""
    if refusal:
        kept = Kept(refusals=(f"{named(label)}: {refusal}",))
    else:
        file = ContentFile(content, name=label)
        attachment = Attachment(label=label, file=file, alt_text=alt_text)
        kept = keep_attachments(case, [attachment], from_follow_up=from_follow_up)
    note_refusals(case, kept)
    return kept


def send_receipt(case: Case) -> None:
    """Write the letter that says a report has come; it repeats nothing of what was sent."""
    context = {
        "case": case,
        "desk_name": settings.DESK_NAME,
        "privacy_address": settings.DESK_ADDRESS.rstrip("/") + reverse("privacy"),
    }
    queue_mail(
        case,
        kind=MailKind.RECEIPT,
        subject=render_to_string("incoming/email/receipt_subject.txt", context).strip(),
        text=render_to_string("incoming/email/receipt_text.txt", context),
        dedupe_key=f"receipt:{case.pk}",
        is_automatic=True,
    )


def _describe(kept: Kept) -> str:
    """Return what came with a reply, as the end of a line of history."""
    parts = [
        f"{count} {noun}{'s' if count > 1 else ''}"
        for count, noun in ((kept.photos, "photo"), (kept.files, "file"))
        if count
    ]
    return f" with {' and '.join(parts)}" if parts else ""
