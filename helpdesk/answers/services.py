"""Draft, save and send answers. Each function is one transaction."""

import datetime
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import F

from helpdesk.accounts.models import User
from helpdesk.answers.advice import danger_cautions, gather_advice, raised_dangers
from helpdesk.answers.cautions import (
    Caution,
    add_missing,
    keep_cautions,
    read_cautions,
    store_cautions,
)
from helpdesk.answers.errors import AlreadySentError, CautionsChangedError, StaleAnswerError
from helpdesk.answers.joined import (
    addresses_of,
    is_to_be_answered,
    names_in,
    reword,
    route_of,
)
from helpdesk.answers.letters import Letter, make_letter, normalise
from helpdesk.answers.models import Answer
from helpdesk.answers.pieces import cut_letter
from helpdesk.answers.selectors import list_sent_answers
from helpdesk.answers.wording import write_body, write_closing, write_subject
from helpdesk.cases.models import Case, CaseState, Channel, MessageKind
from helpdesk.cases.services import add_message, change_state, record_event
from helpdesk.core import clock
from helpdesk.core.errors import RefusedInputError, WrongStateError
from helpdesk.core.jobs import start_job
from helpdesk.outbox.models import MailKind
from helpdesk.outbox.services import queue_mail

BODY_LIMIT = 20_000  # characters [judgement: desk design, 2026-11]


@dataclass(frozen=True, kw_only=True)
class DraftText:
    """What a reviewer wrote; a caution without an entry stays as it is."""

    body: str
    wordings: Mapping[str, str] = field(default_factory=dict)
    reasons: Mapping[str, str] = field(default_factory=dict)
    length_limit: int | None = None

    @classmethod
    def of(cls, answer_id: int) -> "DraftText":
        """Return the text as it was saved."""
        return cls(body=Answer.objects.values_list("body", flat=True).get(pk=answer_id))


@dataclass(frozen=True)
class SavedDraft:
    """A saved draft and the cautions the desk put into it: emptied ones and new dangers."""

    answer: Answer
    put_in: tuple[Caution, ...]


@transaction.atomic
def draft_answer(case: Case, actor: User | None = None) -> Answer:
    """Return the case's draft, written from verdict and plan when there is none yet.

    Raises WrongStateError when the person had everything erased.
    """
    if case.erased_at:
        raise WrongStateError("This case was erased at the person's wish.")
    known = case.answers.filter(sent_at__isnull=True).first()
    if known:
        return known
    try:
        with transaction.atomic():
            answer = Answer.objects.create(case=case, **_drafted(case), **_edited(actor))
    except IntegrityError:  # two reviewers asked at once; the constraint lets one draft stand
        return case.answers.get(sent_at__isnull=True)
    record_event(case, kind="draft", what="Answer drafted", actor=actor)
    return answer


@transaction.atomic
def redraft_answer(answer_id: int, version: int, actor: User) -> Answer:
    """Write the draft anew from verdict and plan; the text that stood there is kept beside it."""
    answer = _get_draft(answer_id, version)
    values = _drafted(answer.case)
    return _store(answer, version, actor, **values, previous_body=answer.body)


@transaction.atomic
def bring_back_text(answer_id: int, version: int, actor: User) -> Answer:
    """Exchange the draft's text with the one that stood there before it was drafted anew."""
    answer = _get_draft(answer_id, version)
    return _store(answer, version, actor, body=answer.previous_body, previous_body=answer.body)


@transaction.atomic
def save_draft(answer_id: int, text: DraftText, version: int, actor: User) -> SavedDraft:
    """Save a draft if it is still at `version`; cautions that are missing are put in.

    Raises StaleAnswerError, holding the draft as it is now, and AlreadySentError.
    """
    answer = _get_draft(answer_id, version)
    kept = keep_cautions(
        read_cautions(answer.cautions),
        wordings=text.wordings,
        reasons=text.reasons,
        raised=raised_dangers(answer.case),
    )
    cautions, added = add_missing(kept.cautions, danger_cautions(answer.case))
    values: dict[str, Any] = {
        "body": normalise(text.body)[:BODY_LIMIT],
        "cautions": store_cautions(cautions),
    }
    if answer.edited_by != actor and values["body"] != answer.body:
        values["previous_body"] = answer.body  # a colleague's text can be brought back
    if text.length_limit:
        values["length_limit"] = text.length_limit
    answer = _store(answer, version, actor, **values)
    for caution in kept.newly_left_out:
        record_event(
            answer.case,
            kind="caution",
            what=f"Caution left out: {caution.text}",
            why=caution.left_out,
            actor=actor,
            data={"caution": caution.id},
        )
    return SavedDraft(answer, (*added, *kept.put_back))


def send_answer(
    answer_id: int,
    version: int,
    actor: User,
    via: str,
    *,
    text: DraftText | None = None,
    follow_up_days: int | None = None,
) -> Answer:
    """Save and send a draft: by mail, or note that a reviewer passed it on by another channel.

    Raises StaleAnswerError; AlreadySentError, for whoever comes second; CautionsChangedError when
    a caution was missing, with the draft saved and nothing sent; and RefusedInputError when there
    is nothing to send or no address to send it to.
    """
    with transaction.atomic():
        saved = save_draft(answer_id, text or DraftText.of(answer_id), version, actor)
        if not saved.put_in:
            return _send(saved.answer, actor, via, follow_up_days)
    raise CautionsChangedError(saved.answer, saved.put_in)


def _send(answer: Answer, actor: User, via: str, follow_up_days: int | None) -> Answer:
    """Send a draft, and pass it on to joined cases, inside the caller's transaction."""
    case = Case.objects.select_for_update().get(pk=answer.case_id)
    _check_sendable(case, answer, via)
    answer = _dispatch(case, answer, actor, via, follow_up_days)
    reached = set(addresses_of(case))
    for joined in case.joined.select_for_update().order_by("opened_at", "pk"):
        if is_to_be_answered(joined):
            _pass_on(answer, joined, actor, follow_up_days, is_reached=_is_in(joined, reached))
            reached |= addresses_of(joined)
    return answer


def _dispatch(
    case: Case, answer: Answer, actor: User, via: str, follow_up_days: int | None
) -> Answer:
    """Mark a draft as sent, write its letter and note it."""
    letter = read_letter(answer, actor, via=via)
    text = letter.text
    if via != Channel.MAIL:
        text = "\n\n".join(cut_letter(letter, answer.length_limit).texts)
    now = clock.now()
    answer = _store(
        answer, answer.version, actor, sent_at=now, sent_by=actor, sent_text=text, sent_via=via
    )
    if via == Channel.MAIL:
        queue_mail(
            case,
            kind=MailKind.ANSWER,
            subject=write_subject(case),
            text=text,
            dedupe_key=f"answer:{answer.pk}",
        )
    _record_sending(case, answer, actor, now, follow_up_days)
    return answer


def _pass_on(
    answer: Answer, joined: Case, actor: User, follow_up_days: int | None, *, is_reached: bool
) -> None:
    """Give a lead's answer to the person of a joined case in their channel, each person once.

    It waits as a draft where nothing carries it there, or where it may name the other person.
    """
    draft = _copy_to(joined, answer, actor)
    letter = read_letter(draft)
    via = route_of(joined)
    is_telling = bool(names_in(letter.text, answer.case, joined))
    if is_reached or not (addresses_of(joined) or is_telling):
        _show_only(joined, draft, actor)
    elif via and not is_telling:
        _dispatch(joined, draft, actor, via, follow_up_days)
    else:
        record_event(
            joined,
            kind="draft",
            what=f"The answer of case {answer.case_id} waits to be passed on",
            why="It may name another person." if is_telling else "No program carries it there.",
            actor=actor,
        )


@transaction.atomic
def offer_answer(joined: Case, *, actor: User) -> Answer | None:
    """Write the latest answer of a joined case's lead as a draft for its person, if it wants one.

    Nothing is sent: the lead was answered before anybody had joined the two.
    """
    latest = joined.joined_to and list_sent_answers(joined.joined_to).last()
    if not latest or not is_to_be_answered(joined):
        return None
    return _copy_to(joined, latest, actor)


@transaction.atomic
def take_back_offer(case: Case) -> None:
    """Take an unsent copy of another case's answer away; a draft that stood there comes back."""
    for draft in case.answers.filter(sent_at__isnull=True, copy_of__isnull=False):
        if not draft.previous_body:
            draft.delete()
            continue
        draft.body, draft.previous_body, draft.copy_of = draft.previous_body, "", None
        draft.save(update_fields=["body", "previous_body", "copy_of"])


def _copy_to(joined: Case, answer: Answer, actor: User) -> Answer:
    """Return a draft of a joined case with the lead's answer; its own draft is kept beside it."""
    cautions, _ = add_missing(read_cautions(answer.cautions), danger_cautions(joined))
    values = {
        "body": reword(answer, joined),
        "cautions": store_cautions(cautions),
        "faults": answer.faults,
        "actions": answer.actions,
        "length_limit": answer.length_limit,
        "copy_of": answer,
    }
    own = joined.answers.filter(sent_at__isnull=True).first()
    if own is None:
        return Answer.objects.create(case=joined, **values, **_edited(actor))
    return _store(own, own.version, actor, **values, previous_body=own.body)


def _show_only(joined: Case, draft: Answer, actor: User) -> None:
    """Show an answer on a person's page: it reached them already, or nothing does."""
    now = clock.now()
    via = joined.reply_channel
    text = read_letter(draft).text
    answer = _store(
        draft, draft.version, actor, sent_at=now, sent_by=actor, sent_text=text, sent_via=via
    )
    _record_sending(joined, answer, actor, now, follow_up_days=0, is_only_shown=True)


def _is_in(case: Case, reached: Collection[tuple[str, str]]) -> bool:
    """Return True when somebody is reached already by one of a case's addresses."""
    return not addresses_of(case).isdisjoint(reached)


def read_letter(answer: Answer, actor: User | None = None, *, via: str = "") -> Letter:
    """Return an answer as the letter it makes; without a channel it has no closing."""
    closing = write_closing(answer.case, actor or answer.sent_by, via=via) if via else ""
    return make_letter(answer.body, read_cautions(answer.cautions), closing)


def compose_unsaved(answer: Answer, text: DraftText) -> Letter:
    """Return the letter that saving `text` would make, without saving anything."""
    kept = keep_cautions(
        read_cautions(answer.cautions),
        wordings=text.wordings,
        reasons=text.reasons,
        raised=raised_dangers(answer.case),
    )
    return make_letter(normalise(text.body)[:BODY_LIMIT], kept.cautions)


def _drafted(case: Case) -> dict[str, Any]:
    """Return the fields of a fresh draft."""
    advice = gather_advice(case)
    return {
        "body": write_body(case, advice),
        "cautions": store_cautions(advice.cautions),
        "faults": [cause.id for cause in advice.causes] if advice.is_confirmed else [],
        "actions": [step.id for step in advice.steps],
    }


def _edited(actor: User | None) -> dict[str, Any]:
    return {"edited_by": actor, "edited_at": clock.now()}


def _get_draft(answer_id: int, version: int) -> Answer:
    """Return a draft at a version, or say what became of it."""
    answer = Answer.objects.select_related("case", "sent_by", "edited_by").get(pk=answer_id)
    if answer.sent_at:
        raise AlreadySentError(answer)
    if answer.version != version:
        raise StaleAnswerError(answer)
    return answer


def _store(answer: Answer, version: int, actor: User, **values: Any) -> Answer:
    """Write changes where the version is still the one seen; the database decides who is first."""
    is_won = Answer.objects.filter(pk=answer.pk, version=version, sent_at__isnull=True).update(
        **values, **_edited(actor), version=F("version") + 1
    )
    if not is_won:  # somebody was faster between reading and writing
        _get_draft(answer.pk, version)
        raise StaleAnswerError(answer)
    return Answer.objects.select_related("case", "sent_by", "edited_by").get(pk=answer.pk)


def _check_sendable(case: Case, answer: Answer, via: str) -> None:
    """Refuse what would reach nobody."""
    if case.erased_at:
        raise WrongStateError("This case was erased at the person's wish.")
    if via not in Channel.values:
        raise RefusedInputError("Please choose the channel you sent the answer by.")
    if via == Channel.MAIL and not case.email:
        raise RefusedInputError("There is no e-mail address on this case. Please copy the answer.")
    if not answer.body.strip():
        raise RefusedInputError("The answer has no text yet.")


def _record_sending(
    case: Case,
    answer: Answer,
    actor: User,
    now: datetime.datetime,
    follow_up_days: int | None,
    *,
    is_only_shown: bool = False,
) -> None:
    """Note the answer in conversation and history, and when to ask how it went."""
    label = Channel(answer.sent_via).label
    letter = replace(read_letter(answer), closing=())
    add_message(
        case,
        kind=MessageKind.ANSWER,
        body=letter.text,
        author=actor,
        channel=answer.sent_via,
        at=now,
    )
    record_event(
        case,
        kind="answer_shown" if is_only_shown else "answer",
        what="Answer shown on their page" if is_only_shown else f"Answer sent by {label}",
        actor=actor,
        at=now,
        data={"answer": answer.pk, "via": answer.sent_via},
    )
    if case.state in (CaseState.RECEIVED, CaseState.ASKED):
        change_state(case, CaseState.ANSWERED, actor=actor, at=now)
    if case.state == CaseState.ANSWERED:
        days = settings.FOLLOW_UP_DAYS if follow_up_days is None else follow_up_days
        case.waiting_since = now
        case.follow_up_on = clock.today() + datetime.timedelta(days=days) if days else None
        case.save(update_fields=["follow_up_on", "waiting_since"])
    start_job(
        "index-case",
        key=f"index-case:{case.pk}:answer:{answer.pk}",
        payload={"case": case.pk},
    )
