"""What was shown when, what was not for long, and what was asked."""

import csv
import datetime
import io
from typing import Any

import pytest

from helpdesk.cases.joining import join_cases
from helpdesk.cases.models import Case, MessageKind
from helpdesk.cases.services import Consent, add_message
from helpdesk.core import clock
from helpdesk.diagnosis.services import set_verdict
from helpdesk.episodes import services as episodes
from helpdesk.episodes.models import Episode
from helpdesk.season.selectors import Season, get_season
from helpdesk.season.subjects import get_subject
from tests.factories import make_case

NOW = datetime.datetime(2026, 11, 25, 12, 0, tzinfo=datetime.UTC)
SINCE, UNTIL = datetime.date(2026, 6, 1), datetime.date(2026, 11, 25)
pytestmark = pytest.mark.django_db


def case_of(fault: str, reviewer: Any, *, weeks_ago: int = 2, **facts: str) -> Case:
    """Open a case whose photos may be shown, with a verdict."""
    with clock.standing_at(NOW - datetime.timedelta(weeks=weeks_ago)):
        case = make_case(
            consent=Consent(may_show_photos=True),
            facts={"process": "MEX", "machine": "Tern 220", "material": "PLA"} | facts,
        )
        if fault:
            set_verdict(case, [fault], actor=reviewer)
    return case


def show(number: int, producer: Any, *cases: Case, weeks_ago: int) -> Episode:
    """Make an episode with these cases and let it be shown."""
    starts_at = NOW - datetime.timedelta(weeks=weeks_ago)
    episode = episodes.make_episode(
        number=number, title="A show", starts_at=starts_at, slot_s=1200, words_per_minute=165
    )
    for case in cases:
        episodes.add_case(episode, case, actor=producer)
    episode.refresh_from_db()
    with clock.standing_at(starts_at):
        episodes.mark_out(episode, actor=producer)
    return episode


def season(by: str = "fault", **dates: datetime.date) -> Season:
    return get_season(**({"since": SINCE, "until": UNTIL} | dates), subject=get_subject(by))


def test_table_says_what_was_shown_when_and_how_many_cases_there_were(reviewer, producer):
    warp, belt = case_of("shrinkage-warp", reviewer), case_of("belt-loose", reviewer)
    case_of("shrinkage-warp", reviewer)
    show(7, producer, warp, belt, weeks_ago=1)
    show(8, producer, case_of("belt-loose", reviewer), weeks_ago=0)

    found = season()

    assert [e.number for e in found.episodes] == [8, 7]
    rows = {r.name: r for r in found.rows}
    slack = next(row for name, row in rows.items() if "belt" in name.lower())
    assert (slack.shown_count, slack.cases) == (2, 2)
    assert [len(cell) for cell in slack.cells] == [1, 1]
    (one,) = slack.cells[1]
    assert one.at_s == one.case.appearances.get().starts_at_s


@pytest.mark.parametrize(
    ("by", "name"),
    [("material", "PETG"), ("machine", "Corvid C1"), ("process", "Extrusion (MEX)")],
)
def test_table_goes_by_what_is_asked(reviewer, producer, by, name):
    case = case_of("belt-loose", reviewer, material="PETG", machine="Corvid C1")
    show(7, producer, case, weeks_ago=1)

    (row,) = season(by).rows

    assert row.name.lower().startswith(name.lower())
    assert (row.shown_count, row.cases, row.suspected) == (1, 1, 0)


def test_part_left_out_and_a_show_in_the_making_were_not_shown(reviewer, producer):
    left, made = case_of("belt-loose", reviewer), case_of("belt-loose", reviewer)
    episode = show(7, producer, left, weeks_ago=1)
    episode.segments.filter(case=left).update(was_left_out=True)
    other = episodes.make_episode(
        number=8, title="Next", starts_at=NOW, slot_s=1200, words_per_minute=165
    )
    episodes.add_case(other, made, actor=producer)

    assert season().shown == []


def test_gap_is_frequent_and_not_shown_for_long(reviewer, producer):
    """Three cases and a show nine weeks ago are a gap; two cases, or a show last week, are none."""
    show(7, producer, case_of("belt-loose", reviewer, weeks_ago=11), weeks_ago=9)
    for _ in range(3):
        case_of("belt-loose", reviewer)
        case_of("filament-wet", reviewer)
    for _ in range(2):
        case_of("pulley-loose", reviewer)
    show(8, producer, case_of("filament-wet", reviewer), weeks_ago=1)

    (gap,) = season(since=datetime.date(2026, 10, 25)).gaps

    assert "belt" in gap.name.lower()
    assert (gap.cases, gap.all_cases) == (3, 9)
    assert gap.last is not None
    assert (gap.last.number, gap.weeks) == (7, 9)


def test_print_reported_twice_counts_once(reviewer):
    first, second = case_of("belt-loose", reviewer), case_of("belt-loose", reviewer)
    join_cases(second, into=first, actor=reviewer)

    assert season().case_count == 1


def test_case_without_a_verdict_counts_as_suspected(reviewer):
    case = case_of("", reviewer)
    Case.objects.filter(pk=case.pk).update(top_fault="belt-loose")

    (row,) = season().rows

    assert (row.settled, row.suspected) == (0, 1)


def test_what_was_asked_on_a_show_and_most_in_the_week_before(reviewer, producer):
    cases = [case_of("belt-loose", reviewer) for _ in range(3)]
    episode = show(7, producer, cases[0], weeks_ago=0)
    episode.segments.filter(case=cases[0]).update(audience_question="Which belt?")
    old, new = "Is it damp?", "Does it click?"
    for case, question, days in ((cases[0], new, 1), (cases[1], new, 6), (cases[2], old, 3)):
        with clock.standing_at(NOW - datetime.timedelta(days=days)):
            message = add_message(case, kind=MessageKind.QUESTION, body="", author=reviewer)
            message.questions = [{"finding": "x", "question": question}]
            message.save()
    with clock.standing_at(NOW - datetime.timedelta(days=9)):
        for case in cases:
            message = add_message(case, kind=MessageKind.QUESTION, body="", author=reviewer)
            message.questions = [{"finding": "y", "question": old}]
            message.save()

    (asked,) = season().asked

    assert [s.audience_question for s in asked.questions] == ["Which belt?"]
    assert (asked.most_asked, asked.most_asked_count) == (new, 2)


def test_page_and_table_by_period(reviewer, producer, as_user):
    show(7, producer, case_of("belt-loose", reviewer), weeks_ago=1)
    page = as_user(reviewer)

    inside = "?since=2026-11-01&until=2026-11-25&by=machine"
    assert "Tern 220" in page.get(f"/season{inside}").text
    table = page.get(f"/season.csv{inside}")
    assert table["Content-Type"] == "text/csv; charset=utf-8"
    assert "season-2026-11-01-to-2026-11-25.csv" in table["Content-Disposition"]
    rows = list(csv.DictReader(io.StringIO(table.text.lstrip("\ufeff"))))
    assert [(r["episode"], r["printer"], r["confirmed"]) for r in rows] == [
        ("7", "Tern 220", "yes")
    ]

    outside = page.get("/season?since=2026-01-01&until=2026-02-01")
    assert "No show in this period" in outside.text
    wrong = page.get("/season?since=2026-03-01&until=2026-02-01")
    assert wrong.status_code == 422
    assert "ends before it begins" in wrong.text
    for far in ("until=9999-12-31", "since=0001-01-01", "until=0001-02-01"):
        refused = page.get(f"/season?{far}")
        assert refused.status_code == 422
        assert "Give a year from 1970 to 2999." in refused.text


def test_season_needs_the_same_queries_for_many_shows(
    reviewer, producer, django_assert_max_num_queries
):
    for number in range(1, 5):
        show(number, producer, case_of("belt-loose", reviewer), weeks_ago=number)

    with django_assert_max_num_queries(16):
        season()
