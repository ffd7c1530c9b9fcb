"""Making, ordering and showing episodes."""

import datetime
from typing import Any

import pytest
from django.utils import timezone

from helpdesk.cases.joining import join_cases
from helpdesk.cases.models import Appearance
from helpdesk.cases.services import Consent, record_consent
from helpdesk.core.jobs import run_due_jobs
from helpdesk.episodes import services
from helpdesk.episodes.erasure import forget_case
from helpdesk.episodes.errors import EpisodeOutError, NotReadyError, StaleSheetError
from helpdesk.episodes.models import Candidate, Episode, SegmentKind
from helpdesk.episodes.selectors import get_run_sheet, list_reserve
from helpdesk.outbox.models import OutgoingMail
from tests.factories import make_case

START = datetime.datetime(2026, 11, 26, 20, 0, tzinfo=datetime.UTC)
pytestmark = pytest.mark.django_db


def make_episode(number=38, **values):
    """Make an episode with the desk's usual slot."""
    defaults: dict[str, Any] = {
        "title": "Knocks",
        "starts_at": START,
        "slot_s": 1200,
        "words_per_minute": 165,
    }
    return services.make_episode(number=number, **(defaults | values))


def shown_case(**consent):
    """Open a case whose photos may be shown."""
    agreed: dict[str, Any] = {
        "may_show_photos": True,
        "credit_kind": "name",
        "credit_as": "Bettine",
    } | consent
    return make_case(consent=Consent(**agreed))


def slugs(episode):
    return [s.slug for s in episode.segments.order_by("position")]


def test_make_episode_comes_with_the_frame_of_a_show():
    episode = make_episode()

    kinds = [s.kind for s in episode.segments.all()]
    assert kinds[0] == SegmentKind.TEASE
    assert kinds[-1] == SegmentKind.FAREWELL


def test_add_case_stands_after_hello_with_points_and_is_a_candidate(producer):
    episode = make_episode()
    case = shown_case()

    services.add_case(episode, case, actor=producer)

    assert slugs(episode)[2] == case.title
    segment = episode.segments.get(case=case)
    assert "Tern 220" in segment.talking_points
    assert not list_reserve().exists()


def test_joined_case_is_no_candidate_and_its_person_is_named_with_the_first(producer):
    """Whoever reported the same print later keeps the credit they asked for."""
    episode = make_episode()
    lead, joined = shown_case(), shown_case(credit_as="Corin")
    services.add_candidate(joined, actor=producer)
    assert [found.case for found in list_reserve()] == [joined]

    join_cases(joined, into=lead, actor=producer)
    services.add_case(episode, lead, actor=producer)

    assert not list_reserve()
    credits = [row.credit for row in get_run_sheet(episode).rows if row.segment.case]
    assert credits == ["Credit: Bettine; Corin"]


def test_add_case_twice_is_one_part(producer):
    episode = make_episode()
    case = shown_case()

    first = services.add_case(episode, case, actor=producer)
    second = services.add_case(episode, case, actor=producer)

    assert first.pk == second.pk


@pytest.mark.parametrize(("place", "lands"), [(1, 1), (3, 3), (99, 5), (-4, 1)])
def test_move_segment_goes_to_any_place(place, lands):
    episode = make_episode()
    last = episode.segments.last()

    assert services.move_segment(last, place=place) == lands
    assert slugs(episode)[lands - 1] == last.slug
    assert [s.position for s in episode.segments.all()] == [1, 2, 3, 4, 5]


def test_move_segment_refuses_an_outdated_sheet():
    episode = make_episode()
    segment = episode.segments.first()
    old = episode.version
    services.move_segment(segment, place=2)

    with pytest.raises(StaleSheetError):
        services.move_segment(segment, place=4, version=old)

    assert slugs(episode)[1] == segment.slug


def test_slug_is_made_unique_in_the_episode(producer):
    episode = make_episode()

    again = services.add_segment(episode, kind=SegmentKind.NOTICE, slug="Hello")

    assert again.slug == "Hello 2"


def test_mark_out_features_cases_once_and_tells_each_person_once(producer):
    episode = make_episode()
    case = shown_case()
    services.add_case(episode, case, actor=producer)

    services.mark_out(episode, actor=producer, link="https://video.example/38")
    services.mark_out(episode, actor=producer)

    shown = Appearance.objects.get(case=case)
    assert (shown.episode_number, shown.starts_at_s) == (38, 50)
    letter = OutgoingMail.objects.get(kind="featured")
    assert "at 0:50" in letter.text
    assert "https://video.example/38" in letter.text
    assert "Bettine" in letter.text


def test_change_episode_takes_fixed_times_along_to_another_day():
    """Also over the end of summer time: a part that must start at 20:10 still does."""
    start = datetime.datetime(2026, 10, 22, 20, 0, tzinfo=timezone.get_default_timezone())
    episode = make_episode(starts_at=start)
    part = episode.segments.get(kind=SegmentKind.THANKS)
    services.change_segment(part, {"hit_at": start + datetime.timedelta(minutes=10)})

    later = start + datetime.timedelta(days=7)
    services.change_episode(episode, {"starts_at": later})

    part.refresh_from_db()
    assert part.hit_at is not None
    assert timezone.localtime(part.hit_at).isoformat() == "2026-10-29T20:10:00+00:00"


def test_change_episode_leaves_fixed_times_when_only_the_hour_changes():
    episode = make_episode()
    part = episode.segments.get(kind=SegmentKind.THANKS)
    fixed = START + datetime.timedelta(minutes=30)
    services.change_segment(part, {"hit_at": fixed})

    services.change_episode(episode, {"starts_at": START + datetime.timedelta(minutes=15)})

    part.refresh_from_db()
    assert part.hit_at == fixed


def test_mark_out_keeps_what_was_noted_since_the_page_was_read(producer):
    episode = make_episode()
    services.add_case(episode, shown_case(), actor=producer)
    read_before = Episode.objects.get(pk=episode.pk)
    services.go_on_air(episode, at=START, actor=producer)
    services.go_off_air(episode, at=START + datetime.timedelta(minutes=19), actor=producer)

    services.mark_out(read_before, actor=producer)

    episode.refresh_from_db()
    assert episode.on_air_at == START
    assert episode.off_air_at == START + datetime.timedelta(minutes=19)


def test_mark_out_sends_the_letter_through_the_mail_server(producer, mailoutbox):
    episode = make_episode()
    services.add_case(episode, shown_case(), actor=producer)

    services.mark_out(episode, actor=producer)
    run_due_jobs()

    letters = [m for m in mailoutbox if "was on" in m.subject]
    assert len(letters) == 1
    assert "/t/" in letters[0].body


@pytest.mark.parametrize(
    ("consent", "sentence"),
    [
        ({"may_show_photos": False}, "No consent"),
        ({"is_under_16": True}, "guardian"),
    ],
)
def test_mark_out_refuses_a_case_that_may_not_be_shown(producer, consent, sentence):
    episode = make_episode()
    services.add_case(episode, shown_case(**consent), actor=producer)

    with pytest.raises(NotReadyError, match=sentence):
        services.mark_out(episode, actor=producer)

    assert not Appearance.objects.exists()


def test_withdrawn_consent_blocks_a_case_already_on_the_sheet(producer):
    episode = make_episode()
    case = shown_case()
    services.add_case(episode, case, actor=producer)
    record_consent(case, Consent(), given_by="Bettine")

    row = next(r for r in get_run_sheet(episode).rows if r.segment.case_id == case.pk)

    assert row.is_blocked


def test_passed_on_print_is_blocked_until_its_owner_agrees(producer):
    case = make_case(is_own_print=False, consent=Consent(may_show_photos=True))
    episode = make_episode()
    services.add_case(episode, case, actor=producer)

    assert "the owner has not agreed" in get_run_sheet(episode).missing[0].text


def test_episode_that_is_out_cannot_be_changed(producer):
    episode = make_episode()
    services.mark_out(episode, actor=producer)

    with pytest.raises(EpisodeOutError):
        services.add_segment(episode, kind=SegmentKind.NOTICE, slug="Late")


def test_run_sheet_needs_the_same_queries_for_many_cases(producer, django_assert_num_queries):
    episode = make_episode()
    for _ in range(2):
        services.add_case(episode, shown_case(), actor=producer)
    with django_assert_num_queries(11):
        get_run_sheet(episode)
    for _ in range(8):
        services.add_case(episode, shown_case(), actor=producer)

    with django_assert_num_queries(11):
        get_run_sheet(episode)


def test_credit_follows_consent_and_is_not_stored(producer):
    """A name stands on the sheet only while its person wants it there."""
    episode = make_episode()
    case = shown_case()
    segment = services.add_case(episode, case, actor=producer)

    before = [row.credit for row in get_run_sheet(episode).rows if row.segment.case]
    record_consent(case, Consent(may_show_photos=True), given_by="Bettine")
    after = [row.credit for row in get_run_sheet(episode).rows if row.segment.case]

    assert "Bettine" not in segment.talking_points
    assert before == ["Credit: Bettine"]
    assert after == ["Credit: nobody is named"]


def test_forget_case_takes_words_away_and_keeps_the_times(producer):
    """After an erasure the sheet holds no word of the case, and every part its moment."""
    episode = make_episode()
    case = shown_case(may_publish_answer=True)
    segment = services.add_case(episode, case, actor=producer)
    services.change_segment(segment, {"script": "Bettine sent a rook " * 20, "slug": "Bettine"})
    before = [(row.seconds, row.time.front) for row in get_run_sheet(episode).rows]

    forget_case(case.pk)
    forget_case(case.pk)

    rows = get_run_sheet(episode).rows
    segment.refresh_from_db()
    assert [(row.seconds, row.time.front) for row in rows] == before
    assert (segment.slug, segment.script, segment.talking_points) == (
        f"Erased case {case.pk}",
        "",
        "",
    )
    assert not list_reserve()
    assert not Candidate.objects.filter(case=case).exists()
