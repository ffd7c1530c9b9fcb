"""Putting right what was noted while a show ran: a start pressed too early, a part left out."""

import datetime

from django.db import transaction

from helpdesk.episodes.locks import refuse_when_out
from helpdesk.episodes.models import Segment


@transaction.atomic
def take_back_start(segment: Segment, *, at: datetime.datetime) -> Segment:
    """Forget the start noted at a moment; one noted at another moment stays."""
    locked = Segment.objects.select_for_update().get(pk=segment.pk)
    refuse_when_out(locked.episode)
    if locked.started_at == at:
        locked.started_at = None
        locked.save(update_fields=["started_at"])
    segment.started_at = locked.started_at
    return segment


@transaction.atomic
def leave_out(segment: Segment, *, is_left_out: bool) -> Segment:
    """Note that a show goes by without a part, or that it does not."""
    locked = Segment.objects.select_for_update().get(pk=segment.pk)
    refuse_when_out(locked.episode)
    if locked.was_left_out != is_left_out:
        locked.was_left_out = is_left_out
        locked.save(update_fields=["was_left_out"])
    segment.was_left_out = locked.was_left_out
    return segment
