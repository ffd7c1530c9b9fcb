"""What the presenter's page notes: on air, each part's start, off air."""

import datetime

import pytest

from helpdesk.episodes.errors import EpisodeOutError, NotOnAirError
from helpdesk.episodes.models import EpisodeState
from helpdesk.episodes.services import (
    add_case,
    go_off_air,
    go_on_air,
    make_episode,
    record_start,
)
from tests.factories import make_case

START = datetime.datetime(2026, 11, 26, 20, 0, tzinfo=datetime.UTC)
LATER = START + datetime.timedelta(seconds=7)
pytestmark = pytest.mark.django_db


@pytest.fixture
def episode():
    """Return an episode in the making."""
    return make_episode(
        number=38, title="Knocks", starts_at=START, slot_s=1200, words_per_minute=165
    )


def test_on_air_and_off_air_keep_the_first_time_and_the_version(episode, producer):
    version = episode.version

    for moment in (START, LATER):
        go_on_air(episode, at=moment, actor=producer)
    for moment in (LATER, LATER + datetime.timedelta(minutes=3)):
        go_off_air(episode, at=moment, actor=producer)

    episode.refresh_from_db()
    assert (episode.on_air_at, episode.off_air_at) == (START, LATER)
    assert episode.version == version


def test_on_air_is_an_event_of_every_case_once(episode, producer):
    case = make_case()
    add_case(episode, case, actor=producer)

    go_on_air(episode, at=START, actor=producer)
    go_on_air(episode, at=LATER, actor=producer)

    assert case.events.filter(what="Episode 38 on air").count() == 1


def test_off_air_before_on_air_is_refused(episode, producer):
    with pytest.raises(NotOnAirError, match="not on air at 20:00:00"):
        go_off_air(episode, at=START, actor=producer)


def test_start_of_a_part_stays_until_it_is_corrected(episode):
    part = episode.segments.first()

    record_start(part, at=START)
    record_start(part, at=LATER)
    assert part.started_at == START

    record_start(part, at=LATER, correct=True)
    part.refresh_from_db()
    assert part.started_at == LATER


def test_episode_that_is_out_notes_nothing_new(episode, producer):
    part = episode.segments.first()
    record_start(part, at=START)
    episode.state = EpisodeState.OUT
    episode.save()

    record_start(part, at=START, correct=True)
    with pytest.raises(EpisodeOutError, match="is out"):
        record_start(part, at=LATER, correct=True)
    with pytest.raises(EpisodeOutError, match="is out"):
        go_on_air(episode, at=START, actor=producer)
