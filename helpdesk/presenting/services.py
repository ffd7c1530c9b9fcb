"""Everything presenting changes: events of a show as they arrive, and marks over pictures."""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction

from helpdesk.accounts.models import User
from helpdesk.core import clock
from helpdesk.core.errors import DeskError, RefusedInputError
from helpdesk.episodes.errors import StaleSheetError
from helpdesk.episodes.locks import lock_episode
from helpdesk.episodes.models import Episode, Segment
from helpdesk.episodes.services import go_off_air, go_on_air, move_segment, record_start
from helpdesk.episodes.starts import leave_out, take_back_start
from helpdesk.photos.models import Photo
from helpdesk.presenting.messages import Message
from helpdesk.presenting.models import PictureMark, StageEvent

AHEAD = datetime.timedelta(minutes=5)  # a clock further ahead is wrong [judgement: desk, 2026-11]
REFUSAL_CHARS = 300
NEED_PART = frozenset({"part", "undo", "skip", "keep"})
OTHER_ORDER = "The sheet was changed meanwhile, so your order was not taken over."


@dataclass(frozen=True)
class Outcome:
    """What became of an event: kept, or refused with a sentence."""

    event_id: str
    refusal: str = ""


def keep_events(episode: Episode, messages: Sequence[Message], *, actor: User) -> list[Outcome]:
    """Keep what a page sent, each event once however often it comes; one refused stops no other."""
    return [_keep_event(episode, message, actor) for message in messages]


@transaction.atomic
def _keep_event(episode: Episode, message: Message, actor: User) -> Outcome:
    """Do one event, or find what became of it the first time."""
    lock_episode(episode)  # two windows may send the same event at once
    known = StageEvent.objects.filter(event_id=message.event_id).first()
    if known is not None:
        return Outcome(str(known.event_id), known.refusal)
    segment = episode.segments.filter(pk=message.part).first() if message.part else None
    refusal = ""
    try:
        with transaction.atomic():
            _do(episode, segment, message, actor)
    except StaleSheetError:
        refusal = OTHER_ORDER
    except DeskError as error:
        refusal = str(error)[:REFUSAL_CHARS]
    StageEvent.objects.create(
        event_id=message.event_id,
        episode=episode,
        kind=message.kind,
        segment=segment,
        at=message.at,
        received_at=clock.now(),
        by=actor,
        refusal=refusal,
    )
    return Outcome(str(message.event_id), refusal)


def _do(episode: Episode, segment: Segment | None, message: Message, actor: User) -> None:
    """Do what an event says through the services of episodes."""
    if message.at > clock.now() + AHEAD:
        raise RefusedInputError("This comes from the future; is the computer’s clock right?")
    if message.kind in NEED_PART and segment is None:
        raise RefusedInputError("That part is no longer on the sheet.")
    if message.kind == StageEvent.Kind.ON_AIR:
        go_on_air(episode, at=message.at, actor=actor)
    elif message.kind == StageEvent.Kind.OFF_AIR:
        go_off_air(episode, at=message.at, actor=actor)
    elif message.kind == StageEvent.Kind.ORDER:
        _put_in_order(episode, message)
    elif segment is not None:
        _do_part(segment, message)


def _do_part(segment: Segment, message: Message) -> None:
    """Do what an event says about one part."""
    if message.kind == StageEvent.Kind.PART:
        record_start(segment, at=message.at, correct=message.is_correction)
        leave_out(segment, is_left_out=False)
    elif message.kind == StageEvent.Kind.UNDO:
        take_back_start(segment, at=message.at)
    else:
        leave_out(segment, is_left_out=message.kind == StageEvent.Kind.SKIP)


def _put_in_order(episode: Episode, message: Message) -> None:
    """Put the parts in an order, unless the sheet no longer has the order it was made from.

    The version alone would refuse too much: it counts every word a producer changes meanwhile.
    """
    segments = list(episode.segments.order_by("position", "pk"))
    ids = [segment.pk for segment in segments]
    if list(message.base) != ids or sorted(message.order) != sorted(ids):
        raise StaleSheetError(OTHER_ORDER)
    known = {segment.pk: segment for segment in segments}
    for place, pk in enumerate(message.order):
        if ids[place] != pk:
            move_segment(known[pk], place=place + 1, version=episode.version)
            episode.refresh_from_db(fields=["version"])
            ids.remove(pk)
            ids.insert(place, pk)


@transaction.atomic
def add_mark(photo: Photo, values: Mapping[str, Any]) -> PictureMark:
    """Draw another mark over a photo, after those it has."""
    last = PictureMark.objects.filter(photo=photo).order_by("-position").first()
    mark = PictureMark(photo=photo, position=last.position + 1 if last else 1, **values)
    mark.full_clean()
    mark.save()
    return mark


@transaction.atomic
def remove_mark(mark: PictureMark) -> None:
    """Take a mark off its photo; those after it move up."""
    photo_id = mark.photo_id
    mark.delete()
    _number(list(PictureMark.objects.filter(photo_id=photo_id)))


@transaction.atomic
def show_mark_earlier(mark: PictureMark) -> None:
    """Show a mark one step earlier."""
    marks = list(PictureMark.objects.filter(photo_id=mark.photo_id))
    place = [each.pk for each in marks].index(mark.pk)
    if place:
        marks[place - 1], marks[place] = marks[place], marks[place - 1]
    _number(marks)


def _number(marks: Sequence[PictureMark]) -> None:
    """Store an order as positions 1 to n."""
    for place, mark in enumerate(marks, 1):
        mark.position = place
    PictureMark.objects.bulk_update(marks, ["position"])
