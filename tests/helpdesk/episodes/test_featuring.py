"""Where cases were really shown, and who is told of it."""

import datetime

import pytest
from django.test import Client

from helpdesk.cases.joining import join_cases
from helpdesk.cases.models import Appearance
from helpdesk.cases.services import Consent
from helpdesk.episodes import services
from helpdesk.episodes.featuring import move_appearances
from helpdesk.episodes.models import Episode
from helpdesk.episodes.real_times import Basis, list_shown_parts
from helpdesk.episodes.selectors import get_run_sheet
from helpdesk.outbox.models import OutgoingMail
from tests.factories import make_case

START = datetime.datetime(2026, 11, 26, 20, 0, tzinfo=datetime.UTC)
pytestmark = pytest.mark.django_db


@pytest.fixture
def episode():
    """Make an episode with the frame of a show."""
    return services.make_episode(
        number=38, title="Knocks", starts_at=START, slot_s=1200, words_per_minute=165
    )


def shown_case(**values):
    """Open a case whose photos may be shown."""
    return make_case(consent=Consent(may_show_photos=True), **values)


def start_at(episode: Episode, **seconds: float) -> None:
    """Note that the show began a minute late, and when parts started after that."""
    began = START + datetime.timedelta(minutes=1)
    Episode.objects.filter(pk=episode.pk).update(on_air_at=began)
    episode.refresh_from_db()
    for kind, second in seconds.items():
        at = began + datetime.timedelta(seconds=second)
        episode.segments.filter(kind=kind).update(started_at=at)


def starts(episode):
    return [(p.segment.kind, p.start_s) for p in list_shown_parts(get_run_sheet(episode))]


def test_plan_stands_where_nothing_was_noted(episode):
    parts = list_shown_parts(get_run_sheet(episode))

    assert [p.start_s for p in parts] == [0, 20, 50, 90, 120]
    assert {p.basis for p in parts} == {Basis.PLANNED}


def test_noted_starts_count_from_going_on_air_and_the_rest_is_reckoned(episode):
    start_at(episode, hello=31.5, call=130)

    parts = list_shown_parts(get_run_sheet(episode))

    assert [p.start_s for p in parts] == [0, 31.5, 61.5, 130, 160]
    assert [p.basis for p in parts[:2]] == [Basis.RECKONED, Basis.NOTED]
    assert parts[1].end_s == 61.5


def test_reckoned_start_never_passes_the_next_noted_one(episode):
    """Whoever ran late caught up; the part between cannot begin behind the one after it."""
    start_at(episode, hello=50, call=55)

    assert starts(episode)[1:4] == [("hello", 50), ("thanks", 55), ("call", 55)]


def test_part_left_out_is_in_no_time_and_blocks_nothing(episode, producer):
    case = make_case()
    services.add_case(episode, case, actor=producer)
    episode.segments.filter(case=case).update(was_left_out=True)
    browser = Client()
    browser.force_login(producer)
    assert case.title not in browser.get("/episodes/38/out").content.decode()

    services.mark_out(episode, actor=producer)

    assert not Appearance.objects.exists()
    assert not OutgoingMail.objects.filter(kind="featured").exists()
    assert [s for _, s in starts(episode)] == [0, 20, 50, 90, 120]


def test_letter_tells_the_real_second_of_the_recording(episode, producer):
    services.add_case(episode, shown_case(), actor=producer)
    start_at(episode, case=281)
    episode.recording_offset_s = 15
    episode.save()

    services.mark_out(episode, actor=producer, link="https://video.example/38")

    letter = OutgoingMail.objects.get(kind="featured")
    assert "at 4:56" in letter.text
    assert "https://video.example/38#t=296" in letter.text
    assert Appearance.objects.get().starts_at_s == 296


def test_everybody_who_reported_the_print_is_told_once(episode, producer):
    """A joined report is answered for; the same address gets one letter of one print."""
    lead = shown_case(email="ada@tarnstreet.example")
    other = shown_case(email="corin@tarnstreet.example", person_name="Corin")
    again = shown_case(email="Ada@tarnstreet.example")
    for joined in (other, again):
        join_cases(joined, into=lead, actor=producer)
    services.add_case(episode, lead, actor=producer)

    services.mark_out(episode, actor=producer)
    services.mark_out(episode, actor=producer)

    letters = OutgoingMail.objects.filter(kind="featured")
    assert sorted(m.to for m in letters) == ["ada@tarnstreet.example", "corin@tarnstreet.example"]
    assert Appearance.objects.count() == 3


def test_finder_reads_that_it_is_a_print_they_passed_on(episode, producer):
    """Consent of the owner was told to the desk; the letter does not call the print theirs."""
    case = shown_case(is_own_print=False)
    case.may_show_photos = True
    case.save()
    services.add_case(episode, case, actor=producer)

    services.mark_out(episode, actor=producer)

    letter = OutgoingMail.objects.get(kind="featured")
    assert letter.subject.startswith("The print you passed on")
    assert "the print you passed on," in letter.text


def test_corrected_times_move_places_and_tell_nobody_again(episode, producer):
    services.add_case(episode, shown_case(), actor=producer)
    services.mark_out(episode, actor=producer)
    start_at(episode, case=99)

    assert move_appearances(episode, actor=producer) == 1
    assert move_appearances(episode, actor=producer) == 0

    assert Appearance.objects.get().starts_at_s == 99
    assert OutgoingMail.objects.filter(kind="featured").count() == 1
