"""The clock of the week beside a recount by brute force, its page and its table."""

import csv
import datetime
import io
import random
from collections import Counter
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from helpdesk.accounts.models import User
from helpdesk.answers.models import Answer
from helpdesk.cases.joining import join_cases
from helpdesk.cases.models import Case, CaseState, Channel
from helpdesk.cases.services import change_state, claim_case, record_outcome
from helpdesk.core import clock
from helpdesk.week.chart import draw_flow
from helpdesk.week.selectors import WEEKS, Flow, get_week
from tests.factories import make_case, make_user

pytestmark = pytest.mark.django_db
NOW = datetime.datetime(2026, 11, 18, 15, 0, tzinfo=datetime.UTC)  # a Wednesday
HOUR = datetime.timedelta(hours=1)
DAY = datetime.timedelta(days=1)


def _answer(case: Case, at: datetime.datetime) -> None:
    with clock.standing_at(at):
        change_state(case, CaseState.ANSWERED)
        Answer.objects.create(case=case, body="x", edited_at=at, sent_at=at, sent_text="x")


def _live(seed: int, count: int) -> list[dict[str, Any]]:
    """Let many cases happen; return what happened to each."""
    chance = random.Random(seed)  # noqa: S311 - no secret
    lives: list[dict[str, Any]] = []
    for _ in range(count):
        opened = NOW - DAY * chance.uniform(0, 100)
        with clock.standing_at(opened):
            case = make_case(channel=chance.choice(["mail", "chat"]))
        life: dict[str, Any] = {"case": case, "opened": opened, "answered": None, "cured": None}
        at, lives = opened, [*lives, life]
        for what in chance.choice([(), ("ask",), ("answer",), ("ask", "back", "answer", "cure")]):
            at += DAY * chance.uniform(0.1, 6)
            if at > NOW:
                break
            with clock.standing_at(at):
                case.refresh_from_db()
                if what == "ask":
                    change_state(case, CaseState.ASKED)
                elif what == "back":
                    change_state(case, CaseState.RECEIVED)
                elif what == "answer":
                    _answer(case, at)
                    life["answered"] = at
                else:
                    record_outcome(case, result="worked")
                    life["cured"] = at
    return lives


def _since() -> datetime.datetime:
    monday = datetime.datetime(2026, 11, 16) - datetime.timedelta(weeks=WEEKS - 1)  # noqa: DTZ001
    return timezone.make_aware(monday)


@pytest.mark.parametrize("seed", [1, 2])
def test_figures_agree_with_a_recount(seed: int) -> None:
    """Every count of the page, counted again without the database's help."""
    lives = _live(seed, 70)
    with clock.standing_at(NOW):
        week = get_week()

    came = [life for life in lives if life["opened"] >= _since()]
    answered = [life for life in came if life["answered"]]
    first = {figure.name: figure.waits for figure in week.figures}["First answer"]
    assert (first.total, first.ended) == (len(came), len(answered))
    # Every time at which a share 1/2 of the product-limit curve is passed, the slow way.
    left = 1.0
    times = sorted((life["answered"] - life["opened"]) / HOUR for life in answered)
    waits = [((life["answered"] or NOW) - life["opened"]) / HOUR for life in came]
    found = None
    for time in times:
        left *= 1 - 1 / sum(wait >= time for wait in waits)
        if found is None and left <= 0.5 + 1e-9:
            found = time
    assert first.median == (pytest.approx(found) if found is not None else None)

    weeks = Counter((life["opened"] - _since()) // (7 * DAY) for life in came)
    assert [flow.came for flow in week.flow] == [weeks[n] for n in range(WEEKS)]
    cured = [life for life in lives if life["cured"] and life["cured"] >= _since()]
    assert sum(flow.closed for flow in week.flow) == len(cured)
    ages = sorted((NOW - life["opened"]) / HOUR for life in lives if not life["cured"])
    assert week.backlog.count == len(ages)
    for value, share in ((week.backlog.middle_h, 0.5), (week.backlog.ninetieth_h, 0.9)):
        assert value == pytest.approx(np.quantile(ages, share, method="inverted_cdf"))
    assert week.backlog.oldest_h == pytest.approx(ages[-1])
    results = {part.name: part.count for part in week.results}
    assert results["Worked"] == sum(1 for life in came if life["cured"])
    assert sum(results.values()) == len(answered)


def test_queries_do_not_grow_with_the_cases(django_assert_max_num_queries: Any) -> None:
    """Sixty cases cost what none costs."""
    _live(3, 60)
    with clock.standing_at(NOW), django_assert_max_num_queries(14):
        get_week()


def test_joined_case_counts_where_it_is_answered() -> None:
    """One print is one wait."""
    with clock.standing_at(NOW - DAY):
        lead, other = make_case(), make_case()
        join_cases(other, into=lead)
    with clock.standing_at(NOW):
        week = get_week()

    assert week.arrived == 1
    assert week.backlog.count == 1


def test_week_begins_where_the_desk_is(settings: Any) -> None:
    """A report at half past midnight on Monday, summer time, is this week's."""
    settings.TIME_ZONE = "Europe/London"
    with clock.standing_at(datetime.datetime(2026, 9, 6, 23, 30, tzinfo=datetime.UTC)):
        make_case()
        flow = get_week().flow

    assert (flow[-1].start, flow[-1].came) == (datetime.date(2026, 9, 7), 1)


def test_loads_are_counts_in_the_order_of_names(reviewer: User) -> None:
    """Who has what and whose turn it is; no speed, no order by number."""
    ansel = make_user("ansel", first_name="Ansel")
    for holder, state in (
        (reviewer, None),
        (reviewer, None),
        (ansel, CaseState.ASKED),
        (None, None),
    ):
        case = make_case()
        if holder:
            claim_case(case.pk, user=holder)
            case.refresh_from_db()
        if state:
            change_state(case, state)

    loads = get_week().loads

    assert [(load.name, load.ours, load.theirs) for load in loads] == [
        ("Ansel", 0, 1),
        ("Imke", 2, 0),
        ("nobody yet", 1, 0),
    ]


def test_longest_waiting_are_ours_and_ten() -> None:
    """Cases that wait for the person are not in it."""
    for n in range(13):
        with clock.standing_at(NOW - DAY * (13 - n)):
            case = make_case(title=f"Print {n}")
            if n == 0:
                change_state(case, CaseState.ASKED)
    with clock.standing_at(NOW):
        longest = get_week().longest

    assert [case.title for case in longest] == [f"Print {n}" for n in range(1, 11)]


@pytest.mark.parametrize("most", [0, 1, 4, 5, 39, 160, 161, 9999])
def test_bars_stay_in_their_drawing(most: int) -> None:
    """Rules stand at whole numbers, bars as high as their counts."""
    chart = draw_flow([Flow(datetime.date(2026, 11, 2), most, most // 2)] * 12)

    counts = [rule.count for rule in chart.rules]
    assert counts[-1] >= max(most, 1)
    assert len(set(np.diff(counts))) == 1
    for bars in chart.weeks:
        assert bars.came.y + bars.came.height == pytest.approx(chart.foot)
        assert 0 <= bars.came.y <= chart.foot
        assert bars.came.height == pytest.approx(130 * most / counts[-1], abs=0.06)


def test_page_says_what_it_counts(
    as_user: Callable[[User], Client], reviewer: User, producer: User
) -> None:
    """Reviewer and producer see figures, definitions and the drawing's words."""
    _live(4, 40)
    with clock.standing_at(NOW - DAY):
        make_case(channel="social")
    with clock.standing_at(NOW):
        pages = [as_user(who).get(reverse("week:week")) for who in (reviewer, producer)]

    for page in pages:
        words = page.content.decode()
        assert page.status_code == 200
        assert "from arrival at the desk to the first answer a reviewer sent" in words
        assert 'aria-label="Cases that came in and cases closed, week by week"' in words
        assert "too few" in words
        assert words.count('<rect class="came"') == WEEKS + 1


def test_table_is_safe_and_complete(as_user: Callable[[User], Client], reviewer: User) -> None:
    """A colleague's name that begins like a formula stays text; every week has its rows."""
    trap = make_user("trap", first_name="=cmd|' /C calc'!A0")
    claim_case(make_case().pk, user=trap)

    with clock.standing_at(NOW):
        response = as_user(reviewer).get(reverse("week:week_table"))

    assert response["Content-Disposition"] == 'attachment; filename="week-2026-11-18.csv"'
    rows = list(csv.DictReader(io.StringIO(response.content.decode("utf-8-sig"))))
    assert sum(row["group"] == "weeks" for row in rows) == 3 * WEEKS
    names = {row["name"] for row in rows if row["group"] == "open cases by reviewer"}
    assert names == {"'=cmd|' /C calc'!A0"}
    channels = {r["name"] for r in rows if r["group"] == "first answer by channel"}
    assert channels == set(Channel.labels)


def test_empty_desk_has_a_week(as_user: Callable[[User], Client], reviewer: User) -> None:
    """Nothing has happened yet, and the page says so."""
    words = as_user(reviewer).get(reverse("week:week")).content.decode()

    assert "No print waits for us." in words
    assert "No case is open." in words
