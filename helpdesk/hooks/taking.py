"""What a message that was kept does: each is one transaction, with its row as the guard."""

import base64
import binascii
import json
import logging
import time
from collections.abc import Callable, Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.core.validators import URLValidator
from django.db import transaction

from helpdesk.cases.models import Case, CreditKind
from helpdesk.cases.services import (
    Consent,
    NewReport,
    record_consent,
    record_event,
)
from helpdesk.core.errors import DeskError, RefusedInputError
from helpdesk.core.http import storable
from helpdesk.core.jobs import start_job
from helpdesk.core.storage import named
from helpdesk.hooks.models import (
    HookConversation,
    HookMessage,
    HookPicture,
    HookSource,
    MessageState,
)
from helpdesk.hooks.schemas import (
    MESSAGE_DELETED,
    MESSAGE_EDITED,
    REPLY_CREATED,
    REPORT_CREATED,
)
from helpdesk.incoming.services import (
    keep_reply,
    lock_case,
    note_refusals,
    pass_to_desk,
    take_reply,
    take_report,
)
from helpdesk.incoming.values import Attachment, Kept

WHY_CHARS = 300
LONGEST_TURN_S = 60.0
MOST_IN_TURN = 500
PICTURE = "picture"
logger = logging.getLogger(__name__)
_web = URLValidator(schemes=["http", "https"])


class NotYetError(DeskError):
    """The report a message belongs to waits to be taken itself."""


def take_waiting() -> None:
    """Take the messages that wait, oldest first; one that fails gets a job of its own.

    What is left after a while is for the next job, so that no worker is held for long.
    """
    end = time.monotonic() + LONGEST_TURN_S
    waiting = HookMessage.objects.filter(state=MessageState.WAITING).order_by("pk")
    ids = list(waiting.values_list("pk", flat=True)[: MOST_IN_TURN + 1])
    for place, message_id in enumerate(ids):
        if place == MOST_IN_TURN or time.monotonic() > end:
            start_job("take-hook-messages", key=f"take-hook-messages:from:{message_id}", payload={})
            return
        try:
            take_message(message_id)
        except Exception:  # whatever is wrong with one, the others are not held up by it
            logger.exception("Hook message %s was not taken with the others", message_id)
            start_job(
                "take-hook-message",
                key=f"hook-message:{message_id}",
                payload={"message": message_id},
            )


def take_message(message_id: int) -> None:
    """Do what a message asks for, once; what cannot be done is kept as refused, with the reason.

    Raises NotYetError when its conversation's report is not taken yet: the job comes again.
    """
    try:
        with transaction.atomic():
            message = (
                HookMessage.objects.select_for_update(of=("self",))
                .select_related("source")
                .filter(pk=message_id, state=MessageState.WAITING)
                .first()
            )
            if message is None:
                return
            data = _clean(json.loads(message.body)["data"])
            message.case = _EFFECTS[message.kind](message, data)
            message.state = MessageState.TAKEN
            message.save(update_fields=["case", "state"])
    except NotYetError:
        raise
    except (DeskError, ValidationError) as error:
        HookMessage.objects.filter(pk=message_id).update(
            state=MessageState.REFUSED, why=_words_of(error)[:WHY_CHARS]
        )


def _take_report(message: HookMessage, data: Mapping[str, Any]) -> Case:
    """Open a case for a report, or add to the one its conversation is about already."""
    source = message.source
    known = HookConversation.objects.filter(source=source, name=message.conversation).first()
    if known:
        return _add_words(message, known.case, data)
    author = data.get("author", {})
    owner = data.get("forwarded_for", {})
    attachments, urls, refusals = _sort_pictures(data)
    taken = take_report(
        NewReport(
            story=data["text"],
            submission_key=_key(message),
            channel=source.channel,
            reply_channel=source.channel,
            title=data.get("title", "").strip(),
            facts=data.get("facts", {}),
            facts_as_sent=data.get("facts", {}),
            person_name=author.get("name", ""),
            handle=author.get("handle", ""),
            handle_where=source.handle_where if author.get("handle") else "",
            is_own_print=not owner,
            owner_name=owner.get("name", "") or owner.get("handle", ""),
            owner_link=_address(owner.get("link", "")),
            link=_address(data.get("link", "")),
        ),
        attachments,
        acknowledges=False,  # the event report.received tells the source
    )
    HookConversation.objects.create(source=source, name=message.conversation, case=taken.case)
    note_refusals(taken.case, Kept(refusals=refusals))
    _plan_pictures(message, taken.case, urls, is_follow_up=False)
    if "consent" in data:
        _keep_consent(taken.case, source, data["consent"])
    return taken.case


def _take_reply(message: HookMessage, data: Mapping[str, Any]) -> Case:
    """Add a reply to the case of its conversation."""
    return _add_words(message, _find_case(message, data), data)


def _add_words(message: HookMessage, case: Case, data: Mapping[str, Any]) -> Case:
    """Add words and pictures to a case."""
    attachments, urls, refusals = _sort_pictures(data)
    take_reply(
        case.pk,
        key=_key(message),
        words=data["text"],
        channel=message.source.channel,
        attachments=attachments,
        author_name=_author(data),
    )
    note_refusals(case, Kept(refusals=refusals))
    _plan_pictures(message, case, urls, is_follow_up=True)
    return case


def _take_edit(message: HookMessage, data: Mapping[str, Any]) -> Case:
    """Keep a changed text beside the one the desk had: nothing that was said is replaced."""
    case = _find_case(message, data)
    take_reply(
        case.pk,
        key=_key(message),
        words=f"The message was changed where it stands. It says now:\n\n{data['text']}",
        channel=message.source.channel,
        author_name=_author(data),
    )
    return case


def _take_deletion(message: HookMessage, data: Mapping[str, Any]) -> Case:
    """Withdraw what was agreed and tell the desk; a reviewer decides whether the case is erased."""
    case = lock_case(_find_case(message, data).pk)
    said_by = _author(data) or case.person
    if case.may_publish_answer or case.may_show_photos:
        record_consent(case, Consent(), given_by=said_by)
    words = "The message was deleted where it stood. Nothing of it may be shown any more."
    taken = keep_reply(
        case,
        key=_key(message),
        words=words,
        channel=message.source.channel,
        author_name=_author(data),
        keep=lambda _: Kept(),
    )
    if taken.message:
        pass_to_desk(case, taken.message)
    return case


_EFFECTS: Mapping[str, Callable[[HookMessage, Mapping[str, Any]], Case]] = {
    REPORT_CREATED: _take_report,
    REPLY_CREATED: _take_reply,
    MESSAGE_EDITED: _take_edit,
    MESSAGE_DELETED: _take_deletion,
}


def _find_case(message: HookMessage, data: Mapping[str, Any]) -> Case:
    """Return the case a message belongs to; raises when there is none, or none yet."""
    found = HookConversation.objects.filter(source=message.source).select_related("case")
    name = message.conversation
    place = found.filter(name=name) if name else found.filter(case=int(data["case"]))
    if known := place.first():
        return known.case
    waiting = HookMessage.objects.filter(
        source=message.source, conversation=name, kind=REPORT_CREATED, state=MessageState.WAITING
    )
    if name and waiting.exists():
        raise NotYetError("The report of this conversation is not taken yet.")
    raise RefusedInputError("The desk has no report of this conversation.")


def _keep_consent(case: Case, source: HookSource, given: Mapping[str, Any]) -> None:
    """Record what a person agreed to and in which words; never for another's print."""
    data = {"wording": given["wording"], "said_by": given["said_by"], "said_at": given["said_at"]}
    if not case.is_own_print:
        record_event(
            case,
            kind="consent_words",
            what="Consent sent with a forwarded report is not used",
            why=given["wording"],
            data=data,
        )
        return
    credit_kind = given.get("credit", CreditKind.ANONYMOUS)
    consent = Consent(
        may_publish_answer=given.get("may_publish_answer", False),
        may_show_photos=given.get("may_show_photos", False),
        credit_kind=credit_kind,
        credit_as=given.get("credit_as", "") if credit_kind != CreditKind.ANONYMOUS else "",
        is_under_16=given.get("is_under_16", False),
        guardian_agreed=given.get("guardian_agreed", False),
    )
    record_consent(case, consent, given_by=given["said_by"])
    record_event(
        case,
        kind="consent_words",
        what=f"Agreed to by {given['said_by'][:80]} in these words, sent by {source.name}",
        why=given["wording"],
        data=data,
    )


def _sort_pictures(
    data: Mapping[str, Any],
) -> tuple[list[Attachment], list[Mapping[str, Any]], tuple[str, ...]]:
    """Return the pictures that came along, those to be fetched, and what cannot be read."""
    here: list[Attachment] = []
    elsewhere: list[Mapping[str, Any]] = []
    refusals: list[str] = []
    for number, picture in enumerate(data.get("pictures", ()), start=1):
        label = picture.get("label", "").strip() or f"{PICTURE} {number}"
        if "url" in picture:
            elsewhere.append({**picture, "label": label})
            continue
        try:
            content = base64.b64decode(picture["base64"], validate=True)
        except (binascii.Error, ValueError):
            refusals.append(f"{named(label)} is not base64.")
            continue
        file = ContentFile(content, name=label)
        here.append(Attachment(label=label, file=file, alt_text=picture.get("alt", "")))
    return here, elsewhere, tuple(refusals)


def _plan_pictures(
    message: HookMessage, case: Case, pictures: list[Mapping[str, Any]], *, is_follow_up: bool
) -> None:
    """Write a row and a job for each picture that is to be fetched."""
    for picture in pictures:
        row = HookPicture.objects.create(
            message=message,
            case=case,
            url=picture["url"],
            label=picture["label"],
            alt_text=picture.get("alt", ""),
            is_follow_up=is_follow_up,
        )
        start_job("fetch-hook-picture", key=f"hook-picture:{row.pk}", payload={"picture": row.pk})


def _clean(value: Any) -> Any:
    """Return JSON without what a database cannot hold."""
    if isinstance(value, str):
        return storable(value)
    if isinstance(value, list):
        return [_clean(item) for item in value]
    if isinstance(value, dict):
        return {name: _clean(item) for name, item in value.items()}
    return value


def _author(data: Mapping[str, Any]) -> str:
    author = data.get("author", {})
    return str(author.get("name") or author.get("handle") or "")


def _address(text: str) -> str:
    """Return a web address, or "" for what is none: it is a courtesy, not worth a refusal."""
    try:
        _web(text)
    except ValidationError:
        return ""
    return text


def _key(message: HookMessage) -> str:
    """Return what names the effect of a message for good."""
    return f"hook:{message.source_id}:{message.id_hash}"


def _words_of(error: Exception) -> str:
    return "; ".join(error.messages) if isinstance(error, ValidationError) else str(error)
