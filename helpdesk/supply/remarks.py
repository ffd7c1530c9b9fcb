"""Standing corrections and replies: added, and withdrawn with a reason; never deleted."""

import datetime
from dataclasses import dataclass

from django.db import transaction

from helpdesk.accounts.models import User
from helpdesk.core import clock
from helpdesk.supply.errors import RefusedWordsError
from helpdesk.supply.models import Remark, RemarkKind, Subject
from helpdesk.supply.services import note_entry


@dataclass(frozen=True, kw_only=True)
class NewRemark:
    """What a correction or reply says; an aired one names episode and second."""

    text: str
    who: str
    on_date: datetime.date
    kind: str = RemarkKind.REPLY
    said: str = ""
    episode_number: int | None = None
    second: int | None = None


@transaction.atomic
def add_remark(subject: Subject, new: NewRemark, *, actor: User) -> Remark:
    """Let a correction or reply stand beside a subject.

    Raises RefusedWordsError for a day to come, a correction that does not say what was said, and
    a second without its episode.
    """
    if new.on_date > clock.today():
        raise RefusedWordsError("This day lies in the future.")
    if new.kind == RemarkKind.CORRECTION and not new.said.strip():
        raise RefusedWordsError("Say what was said, so that people know what is put right.")
    if new.second is not None and new.episode_number is None:
        raise RefusedWordsError("A second needs the number of its episode.")
    remark = Remark.objects.create(
        subject=subject,
        kind=new.kind,
        said=new.said,
        text=new.text,
        who=new.who,
        on_date=new.on_date,
        episode_number=new.episode_number,
        second=new.second,
        noted_by=actor,
        noted_by_name=actor.short_name,
        noted_at=clock.now(),
    )
    note_entry(subject, f"{remark.get_kind_display().capitalize()} added", actor=actor)
    return remark


@transaction.atomic
def withdraw_remark(remark_id: int, *, why: str, actor: User) -> Remark:
    """Let a remark stand no longer; it is kept in the history. Twice is once.

    Raises RefusedWordsError without a reason.
    """
    if not why.strip():
        raise RefusedWordsError("Say why it no longer stands.")
    remark = Remark.objects.select_for_update().get(pk=remark_id)
    if remark.withdrawn_at:
        return remark
    remark.withdrawn_at = clock.now()
    remark.withdrawn_by_name = actor.short_name
    remark.withdrawn_why = why.strip()
    remark.save(update_fields=["withdrawn_at", "withdrawn_by_name", "withdrawn_why"])
    what = f"{remark.get_kind_display().capitalize()} withdrawn"
    note_entry(remark.subject, what, actor=actor, why=why.strip())
    return remark
