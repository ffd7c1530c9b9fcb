"""The demo's shows: made with their run sheets, aired, told of, and put into the archive."""

import datetime
from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from helpdesk.accounts.models import User
from helpdesk.aftershow.models import Supporter
from helpdesk.aftershow.rates import learn_rates
from helpdesk.aftershow.selectors import get_after_show
from helpdesk.aftershow.services import bring_in, keep_list, set_air
from helpdesk.archive.services import import_captions
from helpdesk.cases.models import Report
from helpdesk.core import clock
from helpdesk.core.jobs import run_due_jobs
from helpdesk.demo.data import DemoEpisode, open_captions, open_supporters
from helpdesk.episodes import services as episodes
from helpdesk.episodes.models import Episode, Segment

SHOW_HOUR = 20
SHOW_WEEKDAY = 3  # Thursday
PRODUCER = "wren"


def load_show(demo: DemoEpisode, now: datetime.datetime) -> None:
    """Make one episode with its parts and let it be shown, unless it is there."""
    if Episode.objects.filter(number=demo.number).exists():
        return
    producer = User.objects.get(username=PRODUCER)
    starts_at = show_time(now, demo.weeks_ago)
    with transaction.atomic():
        episode = _make(demo, starts_at, now, producer)
        if demo.is_out:
            _air(episode, demo, producer)
    if demo.captions:
        _archive(episode, demo, producer)


def load_supporters() -> None:
    """Bring in the list of supporters where there is none."""
    if Supporter.objects.exists():
        return
    with open_supporters() as file:
        bring_in(keep_list(file, label=file.name, actor=User.objects.get(username=PRODUCER)))


def show_time(now: datetime.datetime, weeks_ago: int) -> datetime.datetime:
    """Return the evening of a show: 0 is the coming Thursday, 1 the one before."""
    today = timezone.localtime(now)
    days = (SHOW_WEEKDAY - today.weekday()) % 7 or 7
    day = today + datetime.timedelta(days=days - 7 * weeks_ago)
    return day.replace(hour=SHOW_HOUR, minute=0, second=0, microsecond=0)


def _make(
    demo: DemoEpisode, starts_at: datetime.datetime, now: datetime.datetime, producer: User
) -> Episode:
    """Make the run sheet, some days before the show."""
    made_at = min(starts_at - datetime.timedelta(days=2), now - datetime.timedelta(minutes=4))
    with clock.standing_at(made_at):
        episode = episodes.make_episode(
            number=demo.number,
            title=demo.title,
            starts_at=starts_at,
            slot_s=demo.slot_s,
            words_per_minute=165,
        )
        episode.segments.all().delete()
        for part in demo.parts:
            _add_part(episode, part, starts_at, producer)
    episode.refresh_from_db()
    return episode


def _add_part(
    episode: Episode, given: Mapping[str, Any], starts_at: datetime.datetime, producer: User
) -> None:
    """Put one part at the end of the sheet."""
    part = {k: v for k, v in given.items() if k not in ("case", "hit_s", "kind", "started_s")}
    if "case" in given:
        case = Report.objects.get(submission_key=f"demo:{given['case']}").case
        segment = episodes.add_case(episode, case, actor=producer)
    else:
        segment = episodes.add_segment(episode, kind=given["kind"], slug=given["slug"])
    if "hit_s" in given:
        part["hit_at"] = starts_at + datetime.timedelta(seconds=given["hit_s"])
    episodes.change_segment(segment, part)
    last = episode.segments.aggregate(last=Max("position"))["last"] or 1
    segment.refresh_from_db()
    episodes.move_segment(segment, place=last)


def _air(episode: Episode, demo: DemoEpisode, producer: User) -> None:
    """Let a show go on air, note when its parts started, and mark it as out afterwards."""
    began = episode.starts_at + datetime.timedelta(seconds=demo.late_s)
    if demo.off_air_s:
        with clock.standing_at(began):
            episodes.go_on_air(episode, at=began, actor=producer)
        for part in demo.parts:
            segment = Segment.objects.get(episode=episode, slug=part["slug"])
            at = began + datetime.timedelta(seconds=part["started_s"])
            with clock.standing_at(at):
                episodes.record_start(segment, at=at)
    ended = began + datetime.timedelta(seconds=demo.off_air_s or demo.slot_s)
    with clock.standing_at(ended):
        if demo.off_air_s:
            set_air(
                episode,
                on_air_at=began,
                off_air_at=ended,
                recording_offset_s=demo.recording_offset_s,
                actor=producer,
            )
        episode.refresh_from_db()
        episodes.mark_out(episode, actor=producer, link=demo.link)
        run_due_jobs()


def _archive(episode: Episode, demo: DemoEpisode, producer: User) -> None:
    """Bring the captions into the archive the day after, and learn how fast it was spoken."""
    with clock.standing_at(episode.starts_at + datetime.timedelta(days=1)):
        raw = open_captions(demo.captions)
        import_captions(raw, number=demo.number, label=demo.captions, by=producer)
        episode.refresh_from_db()
        learn_rates(episode, get_after_show(episode).parts)
        run_due_jobs()
