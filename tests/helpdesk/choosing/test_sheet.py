"""Putting a proposal on the run sheet: as seen, in order, twice without harm."""

import pytest

from helpdesk.choosing import services
from helpdesk.choosing.errors import StaleChoiceError
from helpdesk.choosing.models import EpisodeRules, Wish
from helpdesk.choosing.selectors import get_proposal, list_changes
from helpdesk.episodes.errors import EpisodeOutError
from helpdesk.episodes.models import EpisodeState
from helpdesk.episodes.selectors import get_run_sheet
from tests.helpdesk.choosing.desk import make_show, make_showable, make_showables, put_by_hand

pytestmark = pytest.mark.django_db


def test_sheet_then_has_the_cases_in_order_with_the_times_proposed(producer):
    make_showables(9)
    episode = make_show()
    proposal = get_proposal(episode)

    services.put_on_sheet(episode, case_ids=proposal.case_ids, actor=producer)

    rows = get_run_sheet(episode).rows
    assert [row.segment.case_id for row in rows if row.segment.case_id] == proposal.case_ids
    assert [row.seconds for row in rows] == [place.seconds for place in proposal.places]
    starts = [round((row.time.front - episode.starts_at).total_seconds()) for row in rows]
    assert starts == [place.in_s for place in proposal.places]
    assert [row.segment.slug for row in rows if not row.segment.case_id] == [
        place.part.slug for place in proposal.places if place.part
    ]


def test_second_press_changes_nothing(producer):
    make_showables(9)
    episode = make_show()
    ids = get_proposal(episode).case_ids
    services.put_on_sheet(episode, case_ids=ids, actor=producer)
    episode.refresh_from_db()
    version = episode.version

    again = services.put_on_sheet(episode, case_ids=ids, actor=producer)

    episode.refresh_from_db()
    assert again == 0
    assert episode.version == version
    assert list_changes(episode, get_proposal(episode).places) == []


def test_parts_with_words_are_left_as_they_are(producer):
    case, *_ = make_showables(5)
    episode = make_show()
    words = "Seven words that somebody wrote with care"
    segment = put_by_hand(episode, case, producer, script=words, presenter="Imke")
    ids = get_proposal(episode).case_ids

    services.put_on_sheet(episode, case_ids=ids, actor=producer)

    segment.refresh_from_db()
    assert segment.script == words
    assert segment.presenter == "Imke"


def test_case_that_is_never_leaves_the_sheet(producer):
    case, *_ = make_showables(5)
    episode = make_show()
    put_by_hand(episode, case, producer)
    services.set_wish(episode, case, kind="never", actor=producer)
    ids = get_proposal(episode).case_ids

    services.put_on_sheet(episode, case_ids=ids, actor=producer)

    assert not episode.segments.filter(case=case).exists()


def test_what_changed_since_it_was_seen_is_not_put_on(producer):
    cases = make_showables(3)
    episode = make_show()
    ids = get_proposal(episode).case_ids
    cases[0].may_show_photos = False
    cases[0].save()

    with pytest.raises(StaleChoiceError, match="changed meanwhile"):
        services.put_on_sheet(episode, case_ids=ids, actor=producer)

    assert not episode.segments.filter(case__isnull=False).exists()


def test_nothing_that_fits_is_put_on_nothing(producer):
    with pytest.raises(StaleChoiceError):
        services.put_on_sheet(make_show(), case_ids=[], actor=producer)


def test_episode_that_is_out_is_history(producer):
    case = make_showable()
    episode = make_show()
    episode.state = EpisodeState.OUT
    episode.save()

    with pytest.raises(EpisodeOutError):
        services.put_on_sheet(episode, case_ids=[case.pk], actor=producer)
    with pytest.raises(EpisodeOutError):
        services.set_wish(episode, case, kind="must", actor=producer)
    with pytest.raises(EpisodeOutError):
        services.set_rules(episode, {"least_families": 1})
    assert not Wish.objects.exists()
    assert not EpisodeRules.objects.exists()
