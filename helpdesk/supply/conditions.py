"""What a statement still needs before it may be aired or printed: one question, one sentence each.

The functions read what was fetched already, so that many statements cost no more queries than one.
"""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from django.conf import settings
from django.utils import timezone

from helpdesk.core import clock
from helpdesk.photos.models import PhotoState
from helpdesk.supply.models import EvidencePicture, Remark, RemarkKind, ReplyRequest, Statement
from helpdesk.supply.wording import Hit, check_wording


@dataclass(frozen=True)
class JudgedHit:
    """A wording that was marked, and the reason for which a producer lets it stand."""

    hit: Hit
    reason: str = ""
    by: str = ""


def list_needs(statement: Statement) -> list[str]:
    """Return, in sentences, what a statement still needs; [] when it may be aired."""
    needs = [_picture_need(statement), _reply_need(statement), _wording_need(statement)]
    return [need for need in needs if need]


def shown_pictures(statement: Statement) -> list[EvidencePicture]:
    """Return the pictures that can be shown and whose person agrees at this moment."""
    return [each for each in statement.pictures.all() if may_be_shown(each)]


def may_be_shown(picture: EvidencePicture) -> bool:
    """Return whether an evidence picture is ready and its person agrees at this moment."""
    case = picture.photo.case
    return bool(
        case
        and case.erased_at is None
        and case.may_show_in_public
        and picture.photo.state == PhotoState.READY
    )


def find_reply(statement: Statement) -> Remark | None:
    """Return the latest reply to a statement that stands, or None."""
    return next(iter(_standing_replies(statement)), None)


def find_request(statement: Statement) -> ReplyRequest | None:
    """Return the first time the subject was asked about the words as they stand, or None."""
    asked = (r for r in statement.requests.all() if r.statement_text == statement.text)
    return next((r for r in asked if not is_lost(r) and not is_on_its_way(r)), None)


def is_on_its_way(request: ReplyRequest) -> bool:
    """Return whether the letter that asks still waits to be sent."""
    return request.mail is not None and request.mail.sent_at is None and not is_lost(request)


def is_lost(request: ReplyRequest) -> bool:
    """Return whether the letter that asked did not arrive."""
    return request.mail is not None and request.mail.undelivered_at is not None


def waits_until(request: ReplyRequest) -> datetime.date:
    """Return the last day on which the desk waits for a reply."""
    sent_at = request.mail.sent_at if request.mail else None
    asked_on = timezone.localdate(sent_at) if sent_at else request.on_date
    return asked_on + datetime.timedelta(days=settings.REPLY_DAYS)


def judge_wording(statement: Statement) -> list[JudgedHit]:
    """Return every wording marked in a statement, with the reason to let it stand."""
    kept = {(o.rule, o.phrase, o.sentence): o for o in statement.overrides.all()}
    judged = []
    for hit in check_wording(statement.text):
        override = kept.get((hit.rule, hit.phrase, hit.sentence))
        judged.append(
            JudgedHit(hit, override.reason, override.by_name) if override else JudgedHit(hit)
        )
    return judged


def _standing_replies(statement: Statement) -> list[Remark]:
    """Return the replies that stand, latest first."""
    replies = [r for r in statement.replies.all() if r.kind == RemarkKind.REPLY]
    return [reply for reply in replies if reply.withdrawn_at is None]


def _picture_need(statement: Statement) -> str:
    pictures = list(statement.pictures.all())
    name = statement.subject.full_name
    if not pictures:
        return f"No picture shows yet what is said of {name}."
    if not any(map(may_be_shown, pictures)):
        return f"The picture of what is said of {name} may not be shown: nobody agreed to it."
    return ""


def _reply_need(statement: Statement) -> str:
    """Return what is missing of the right of reply; a reply to these words ends the waiting."""
    if any(reply.said == statement.text for reply in _standing_replies(statement)):
        return ""
    name = statement.subject.full_name
    request = find_request(statement)
    if request:
        until = waits_until(request)
        if clock.today() > until:
            return ""
        return (
            f"{name} was asked on {_day(request.on_date)} and may reply until {_day(until)}; "
            "no reply is recorded yet."
        )
    asked: Sequence[ReplyRequest] = list(statement.requests.all())
    if not asked:
        return f"{name} has not been asked for a reply yet."
    same = [r for r in asked if r.statement_text == statement.text]
    if any(map(is_on_its_way, same)):
        return f"The letter that asks {name} for a reply has not gone out yet."
    if same:
        return f"The letter that asks {name} for a reply did not arrive. Ask by another way."
    return f"The statement on {name} was changed after they were asked. Ask about the new words."


def _wording_need(statement: Statement) -> str:
    open_hits = [judged.hit for judged in judge_wording(statement) if not judged.reason]
    if not open_hits:
        return ""
    said = [f"“{hit.phrase}”" if hit.phrase else hit.name.lower() for hit in open_hits]
    return (
        f"The words on {statement.subject.full_name} are not neutral yet: "
        f"{', '.join(dict.fromkeys(said))}."
    )


def _day(date: datetime.date) -> str:
    return f"{date.day} {date:%B %Y}"
