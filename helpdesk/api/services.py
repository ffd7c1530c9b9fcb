"""What programs do through the API, and who may: each function is one transaction."""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.db.models import Q

from helpdesk.accounts.models import User
from helpdesk.api.errors import ERASED, WRONG_STEP, ProblemError
from helpdesk.api.models import CaseRef, ChannelToken, NotePicture, PostedNote, Upload
from helpdesk.api.refs import name_case
from helpdesk.api.uploads import as_attachments, drop_uploads, open_uploads
from helpdesk.cases.models import Case, CreditKind, Outcome, Report
from helpdesk.cases.services import (
    PERSON,
    Consent,
    NewReport,
    Quote,
    record_consent,
    record_event,
    record_outcome,
    title_from,
)
from helpdesk.cases.tokens import hash_token, make_token
from helpdesk.core import clock
from helpdesk.core.errors import WrongStateError
from helpdesk.core.jobs import start_job
from helpdesk.core.storage import clean_label
from helpdesk.incoming.notes import Note, note_key
from helpdesk.incoming.services import lock_case, take_reply, take_report
from helpdesk.incoming.values import Kept, TakenReply, TakenReport
from helpdesk.printfiles.limits import LABEL_CHARS

TOKEN_MARK = "pwt_"  # noqa: S105 - what a token begins with, so that one that leaked is known for it
PICTURE = "picture"


@transaction.atomic
def make_channel_token(
    *,
    name: str,
    channel: str,
    handle_where: str,
    scopes: Sequence[str],
    picture_hosts: Sequence[str],
    expires_at: datetime.datetime,
    actor: User,
) -> tuple[ChannelToken, str]:
    """Make a token and return it with its secret, which is not kept."""
    secret = TOKEN_MARK + make_token()
    row = ChannelToken.objects.create(
        name=name,
        channel=channel,
        handle_where=handle_where,
        scopes=list(scopes),
        picture_hosts=list(picture_hosts),
        token_hash=hash_token(secret),
        created_at=clock.now(),
        created_by=actor,
        expires_at=expires_at,
    )
    return row, secret


@transaction.atomic
def revoke_token(row: ChannelToken) -> None:
    """End a token for good; its cases and what it sent stay."""
    ChannelToken.objects.filter(pk=row.pk, revoked_at__isnull=True).update(revoked_at=clock.now())


def note_use(token: ChannelToken) -> None:
    """Remember on which day a token was used last."""
    today = clock.today()
    if token.last_used_on != today:
        ChannelToken.objects.filter(pk=token.pk).update(last_used_on=today)


def note_heard(token: ChannelToken, after: int) -> None:
    """Remember how far a program has read, for it continues from there; never backwards."""
    ChannelToken.objects.filter(pk=token.pk, heard_up_to__lt=after).update(heard_up_to=after)


@transaction.atomic
def send_report(token: ChannelToken, data: Mapping[str, Any], *, key: str) -> tuple[CaseRef, Kept]:
    """Open a case for a report; raises ProblemError when its case was erased meanwhile."""
    uploads = open_uploads(token, data.get("uploads", ()))
    person, owner = data.get("person", {}), data.get("owner")
    facts = data.get("facts", {})
    taken = take_report(
        NewReport(
            story=data["text"],
            submission_key=key,
            channel=token.channel,
            reply_channel=token.channel,
            facts=facts,
            facts_as_sent={name: str(value) for name, value in facts.items()},
            person_name=person.get("name", "").strip(),
            handle=person.get("handle", "").strip(),
            handle_where=token.handle_where,
            email=person.get("email", ""),
            is_own_print=owner is None,
            owner_name=(owner or {}).get("name", "").strip(),
            owner_link=(owner or {}).get("link", ""),
            link=data.get("link", ""),
            keeps_originals=data.get("keeps_originals", False),
        ),
        as_attachments(uploads),
        acknowledges=bool(person.get("email")),
    )
    return _finish_report(token, taken, uploads, data.get("consent"))


@transaction.atomic
def send_reply(row: CaseRef, data: Mapping[str, Any], *, key: str) -> Kept:
    """Add a reply to a case of this program."""
    uploads = open_uploads(row.token, data.get("uploads", ()))
    taken = _reply(
        row.case,
        key=key,
        words=data["text"],
        channel=row.token.channel,
        attachments=as_attachments(uploads),
        author_name=data.get("author", "").strip(),
    )
    drop_uploads(uploads)
    return taken.kept


@transaction.atomic
def send_outcome(row: CaseRef, data: Mapping[str, Any]) -> Outcome:
    """Keep what became of the print; raises ProblemError before there is an answer."""
    case = _lock(row.case)
    if not case.answers.filter(sent_at__isnull=False).exists():
        raise ProblemError(WRONG_STEP, "The desk has not answered this case yet.")
    return record_outcome(
        case, result=data["result"], words=data.get("text", ""), said_by=case.person_name or PERSON
    )


@dataclass(frozen=True)
class TakenNote:
    """What became of a post; `row` is None when its case did not come by this program."""

    case: Case
    row: CaseRef | None
    is_new: bool


@transaction.atomic
def take_note(token: ChannelToken, note: Note) -> TakenNote:
    """Take a post: a reply to a post the desk knows goes to that case, any other is a report."""
    case = _find_thread(token, note)
    taken: TakenReport | TakenReply
    if case is None:
        taken = take_report(_as_report(token, note), acknowledges=False)
        case = taken.case
        if case.erased_at:
            raise ProblemError(ERASED, "The case was erased.")
        if taken.is_new:  # else somebody brought this very post in: its case is not this program's
            name_case(token, case)
    else:
        author = note.author
        taken = _reply(
            case,
            key=note.key,
            words=note.words,
            channel=token.channel,
            author_name=(author.name or author.handle) if author else "",
        )
    if taken.is_new:
        PostedNote.objects.get_or_create(key=note.key, defaults={"case": case})
        _plan_pictures(token, case, note, is_follow_up=isinstance(taken, TakenReply))
    row = CaseRef.objects.filter(token=token, case=case).first()
    return TakenNote(case=case, row=row, is_new=taken.is_new)


def _as_report(token: ChannelToken, note: Note) -> NewReport:
    """Return a post as a report; who passes one on is the finder, its author the owner."""
    author, finder = note.author, note.passed_on_by
    sender = finder or author
    facts = {} if note.is_public else {"who could read it": "only those it names"}
    if note.published:
        facts["posted"] = note.published.isoformat()
    return NewReport(
        story=note.words,
        title=note.title or title_from(note.bare_words),
        submission_key=note.key,
        channel=token.channel,
        reply_channel=token.channel,
        facts_as_sent=facts,
        person_name=sender.name if sender else "",
        handle=sender.handle if sender else "",
        handle_where=token.handle_where if sender else "",
        is_own_print=finder is None,
        owner_name=((author.name or author.handle) if author else "") if finder else "",
        owner_link=(note.link or (author.link if author else "")) if finder else "",
        link=note.link,
    )


def _find_thread(token: ChannelToken, note: Note) -> Case | None:
    """Return the case a post replies to, unless it came by another program.

    Raises ProblemError when that case was erased.
    """
    keys = [note_key(name) for name in note.reply_to]
    others = CaseRef.objects.exclude(token=token).values("case")
    cases = Case.objects.exclude(pk__in=others)
    posted = PostedNote.objects.filter(key__in=keys).values("case")
    reported = Report.objects.filter(submission_key__in=keys).values("case")
    case = cases.filter(Q(pk__in=posted) | Q(pk__in=reported)).order_by("pk").first()
    if case and case.erased_at:
        raise ProblemError(ERASED, "The case was erased.")
    return case


def _plan_pictures(token: ChannelToken, case: Case, note: Note, *, is_follow_up: bool) -> None:
    """Write a row and a job for each picture a post names."""
    for number, picture in enumerate(note.pictures, start=1):
        last = picture.address.partition("?")[0].rstrip("/")
        row = NotePicture.objects.create(
            token=token,
            case=case,
            address=picture.address,
            label=clean_label(last, limit=LABEL_CHARS, unnamed=f"{PICTURE} {number}"),
            alt_text=picture.alt_text,
            is_follow_up=is_follow_up,
        )
        start_job("fetch-note-picture", key=f"note-picture:{row.pk}", payload={"picture": row.pk})


def _finish_report(
    token: ChannelToken,
    taken: TakenReport,
    uploads: Sequence[Upload],
    consent: Mapping[str, Any] | None,
) -> tuple[CaseRef, Kept]:
    """Name the case for the program, keep what was agreed, and forget the uploads."""
    if taken.case.erased_at:
        raise ProblemError(ERASED, "The case was erased.")
    if taken.is_new and consent:
        _keep_consent(taken.case, token, consent)
    drop_uploads(uploads)
    return name_case(token, taken.case), taken.kept


def _keep_consent(case: Case, token: ChannelToken, given: Mapping[str, Any]) -> None:
    """Record what a person agreed to, and to which words; nobody speaks for an owner."""
    where = token.handle_where or token.name
    if not case.is_own_print:
        record_event(
            case,
            kind="consent_words",
            what="What was agreed for somebody else’s print is not used",
            why=given["wording"],
            data={"said_by": given["given_by"], "said_at": given["given_at"]},
        )
        return
    credit = given.get("credit", CreditKind.ANONYMOUS)
    record_consent(
        case,
        Consent(
            may_publish_answer=given.get("may_publish_answer", False),
            may_show_photos=given.get("may_show_photos", False),
            credit_kind=credit,
            credit_as=given.get("credit_as", "") if credit != CreditKind.ANONYMOUS else "",
            is_under_16=given.get("is_under_16", False),
            guardian_agreed=given.get("guardian_agreed", False),
        ),
        given_by=given["given_by"],
        quote=Quote(words=f"{given['wording']}\n({given['given_at']})", where=where[:80]),
    )


def _reply(case: Case, **reply: Any) -> TakenReply:
    try:
        return take_reply(case.pk, **reply)
    except WrongStateError as error:
        raise ProblemError(ERASED, str(error)) from error


def _lock(case: Case) -> Case:
    try:
        return lock_case(case.pk)
    except WrongStateError as error:
        raise ProblemError(ERASED, str(error)) from error
