"""The pages and files of a run sheet."""

import csv
import datetime
import io

import pytest
from django.test import Client
from django.urls import reverse

from helpdesk.cases.services import Consent
from helpdesk.core.jobs import run_due_jobs
from helpdesk.episodes import services
from helpdesk.episodes.models import PartKind, SegmentKind
from tests.factories import make_case, make_user
from tests.helpdesk.episodes.test_shows import AGREED, START, add_photo

pytestmark = pytest.mark.django_db


@pytest.fixture
def episode():
    """Return an episode in the making."""
    return services.make_episode(
        number=38, title="Knocks", starts_at=START, slot_s=1200, words_per_minute=175
    )


@pytest.fixture
def page(producer):
    """Return the producer's browser."""
    client = Client()
    client.force_login(producer)
    return client


def at(name, *args):
    return reverse(f"episodes:{name}", args=args)


def part_data(segment, **changes):
    """Return what the form of a part sends when nothing was typed."""
    data = {
        "version": segment.version,
        "slug": segment.slug,
        "presenter": segment.presenter,
        "script": segment.script,
        "talking_points": segment.talking_points,
        "fixed_s": "0:20",
        "links": segment.links,
        "audience_question": segment.audience_question,
    }
    return data | changes


@pytest.mark.parametrize("name", ["run_sheet", "print_sheet", "script"])
def test_pages_show_every_word_that_must_be_said(page, episode, producer, name):
    case = make_case(
        story="It smells of burning and the plug is brown and scorched.", consent=AGREED
    )
    run_due_jobs()
    segment = services.add_case(episode, case, actor=producer)
    services.change_segment(segment, {"audience_question": "Who has seen <this>?"})

    text = page.get(at(name, 38)).content.decode()

    assert "Say aloud:" in text
    assert "unplug" in text
    assert "Credit: Bettine" in text
    assert "Who has seen &lt;this&gt;?" in text


def test_second_save_of_a_part_is_refused_with_both_versions(page, episode):
    """What either of two producers typed stands on the page; keeping again overwrites."""
    segment = episode.segments.first()
    late = part_data(segment, script="Words of the second producer")
    first = page.post(
        at("edit_part", 38, segment.pk), part_data(segment, script="Words of the first producer")
    )
    second = page.post(at("edit_part", 38, segment.pk), late)

    text = second.content.decode()
    assert (first.status_code, second.status_code) == (302, 409)
    assert "Words of the first producer" in text
    assert "Words of the second producer" in text
    segment.refresh_from_db()
    assert segment.script == "Words of the first producer"

    again = page.post(at("edit_part", 38, segment.pk), late | {"version": segment.version})
    segment.refresh_from_db()
    assert again.status_code == 302
    assert segment.script == "Words of the second producer"


def test_two_producers_may_change_two_parts(page, episode):
    """The words of one part do not go stale because another changed or was moved."""
    one, other = episode.segments.all()[:2]
    late = part_data(one, script="Mine")
    page.post(at("edit_part", 38, other.pk), part_data(other, script="Theirs"))
    services.move_segment(other, place=1)

    assert page.post(at("edit_part", 38, one.pk), late).status_code == 302


@pytest.mark.parametrize(
    ("name", "typed"),
    [("add_part", {"kind": "notice", "slug": "A late note"}), ("add_case", {"case": 1})],
)
def test_adding_to_a_sheet_that_changed_is_refused(page, episode, name, typed):
    if name == "add_case":
        typed = {"case": make_case().pk}
    stale = {"version": episode.version}
    services.move_segment(episode.segments.first(), place=3)

    response = page.post(at(name, 38), typed | stale)

    assert response.status_code == 409
    assert "Somebody else changed the sheet meanwhile" in response.content.decode()
    assert episode.segments.count() == 5
    if "slug" in typed:
        assert 'value="A late note"' in response.content.decode()


def test_removing_from_a_sheet_that_changed_is_refused(page, episode):
    segment = episode.segments.first()
    stale = episode.version
    services.move_segment(segment, place=3)

    response = page.post(at("remove_part", 38, segment.pk), {"version": stale})

    assert response.status_code == 409
    assert episode.segments.count() == 5


@pytest.mark.parametrize("headers", [{}, {"HX-Request": "true"}])
def test_moving_on_a_sheet_that_changed_is_refused_and_says_so(page, episode, headers):
    first, second = episode.segments.all()[:2]
    stale = episode.version
    services.move_segment(first, place=4)

    response = page.post(
        at("move_part", 38, second.pk), {"place": 5, "version": stale}, headers=headers
    )

    assert response.status_code == 409
    assert "Nothing moved." in response.content.decode()
    assert episode.segments.first() == second


def test_second_save_of_an_episode_is_refused_with_both_versions(page, episode):
    data = {
        "version": episode.details_version,
        "title": "First title",
        "starts_at": "2026-11-26T20:00",
        "slot_s": "20:00",
        "words_per_minute": "175",
    }
    page.post(at("edit_episode", 38), data)
    response = page.post(at("edit_episode", 38), data | {"title": "Second title"})

    text = response.content.decode()
    assert response.status_code == 409
    assert "First title" in text
    assert "Second title" in text


def test_forms_of_the_sheet_carry_its_version(page, episode):
    segment = episode.segments.first()
    field = f'name="version" value="{episode.version}"'

    sheet = page.get(at("run_sheet", 38)).content.decode()
    form = page.get(at("edit_part", 38, segment.pk)).content.decode()

    assert sheet.count(field) >= 2 * 5 + 1
    assert field in form
    assert f'name="version" value="{segment.version}"' in form


def test_pictures_are_shown_in_the_order_of_their_places(page, episode, producer):
    case = make_case(consent=AGREED)
    first, second, third = (add_photo(case, position=n) for n in (1, 2, 3))
    segment = services.add_case(episode, case, actor=producer)
    assert [p.photo_id for p in segment.pictures.all()] == [first.pk, second.pk, third.pk]

    places = {
        f"place_{first.pk}": "2", f"seconds_{first.pk}": "5",
        f"place_{second.pk}": "", f"seconds_{second.pk}": "8",
        f"place_{third.pk}": "1", f"seconds_{third.pk}": "20",
    }  # fmt: skip
    response = page.post(at("edit_part", 38, segment.pk), part_data(segment, **places))

    assert response.status_code == 302
    shown = [(p.photo_id, p.seconds) for p in segment.pictures.all()]
    assert shown == [(third.pk, 20), (first.pk, 5)]


def test_photo_without_consent_cannot_be_chosen(page, episode, producer):
    case = make_case(consent=Consent())
    photo = add_photo(case)
    segment = services.add_case(episode, case, actor=producer)

    page.post(at("edit_part", 38, segment.pk), part_data(segment, **{f"place_{photo.pk}": "1"}))

    assert not segment.pictures.exists()


def test_links_must_be_addresses(page, episode):
    segment = episode.segments.first()

    response = page.post(
        at("edit_part", 38, segment.pk), part_data(segment, links="javascript:alert(1)")
    )

    assert response.status_code == 422
    assert "is no web address" in response.content.decode()


def test_own_kind_stands_where_the_producer_said_for_as_long(page, episode):
    page.post(at("kinds"), {"name": "Workshop visit", "usual_s": "2:30", "stands": "opening"})
    kind = PartKind.objects.get()

    page.post(
        at("add_part", 38),
        {"kind": f"own-{kind.pk}", "slug": "At the lathe", "version": episode.version},
    )

    segment = episode.segments.get(slug="At the lathe")
    assert (segment.position, segment.fixed_s, segment.kind) == (3, 150, SegmentKind.OWN)
    assert "Workshop visit" in page.get(at("run_sheet", 38)).content.decode()


def test_kind_in_use_stays(page, episode):
    kind = PartKind.objects.create(name="Letter", usual_s=60)
    services.add_segment(episode, kind=SegmentKind.OWN, own_kind=kind, slug="A letter")

    page.post(at("drop_kind", kind.pk))
    assert PartKind.objects.exists()

    episode.segments.filter(own_kind=kind).delete()
    page.post(at("drop_kind", kind.pk))
    assert not PartKind.objects.exists()


@pytest.mark.parametrize("name", ["Tease", "  letter "])
def test_kind_refuses_a_name_that_is_taken(page, name):
    PartKind.objects.create(name="Letter", usual_s=60)

    response = page.post(at("kinds"), {"name": name, "usual_s": "60", "stands": "cases"})

    assert response.status_code == 422


def test_table_runs_no_formula_and_holds_every_part(page, episode):
    services.change_segment(episode.segments.first(), {"slug": "=1+1", "script": "word " * 35})

    response = page.get(at("sheet_table", 38))

    rows = list(csv.DictReader(io.StringIO(response.content.decode("utf-8-sig"))))
    assert len(rows) == 5
    assert (rows[0]["Slug"], rows[0]["Words"], rows[0]["Length (s)"]) == ("'=1+1", "35", "32")
    assert "attachment" in response["Content-Disposition"]


def test_sheet_without_cases_and_sheet_with_too_many_say_so(page, episode, producer):
    assert "No part shows a case yet" in page.get(at("run_sheet", 38)).content.decode()

    services.change_episode(episode, {"slot_s": 60})
    services.add_case(episode, make_case(consent=AGREED), actor=producer)

    text = page.get(at("run_sheet", 38)).content.decode()
    assert "More is planned than the slot holds" in text
    for name in ("print_sheet", "script", "sheet_pdf", "sheet_table"):
        assert page.get(at(name, 38)).status_code == 200


def test_case_taken_back_on_air_is_marked_on_every_page(page, episode, producer):
    case = make_case(consent=AGREED)
    services.add_case(episode, case, actor=producer)
    services.go_on_air(episode, at=START, actor=producer)
    case.may_show_photos = False
    case.save()

    for name in ("run_sheet", "print_sheet", "script"):
        assert "Do not show" in page.get(at(name, 38)).content.decode()


def test_reviewer_reads_the_script_and_changes_nothing(episode):
    client = Client()
    client.force_login(make_user("reader", role="reviewer"))

    assert client.get(at("script", 38)).status_code == 200
    assert client.get(at("kinds")).status_code == 403


@pytest.mark.parametrize(("asked", "used"), [("5", 5), ("99", 7), ("-1", 1), ("x", 3), ("0", 3)])
def test_script_has_a_size_that_needs_no_script(page, episode, asked, used):
    text = page.get(at("script", 38), {"size": asked}).content.decode()

    assert f'data-type="{used}"' in text


def test_sheet_keeps_what_others_noted_while_a_part_was_written(episode):
    """A start noted by the presenter's page survives a save of the words."""
    segment = episode.segments.first()
    other = episode.segments.get(pk=segment.pk)
    services.record_start(other, at=START + datetime.timedelta(seconds=4))

    services.change_segment(segment, {"script": "Words"})

    segment.refresh_from_db()
    assert segment.started_at == START + datetime.timedelta(seconds=4)
