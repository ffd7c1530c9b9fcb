"""The queue: order, pages, filters, taking."""

import contextlib
import datetime
import re
import sqlite3
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.db import connection, connections
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.cases.errors import AlreadyTakenError
from helpdesk.cases.models import Case, CaseState, QueueRank
from helpdesk.cases.services import change_state, claim_case, set_danger
from helpdesk.core import clock
from helpdesk.review.errors import NothingToTakeError
from helpdesk.review.selectors import PAGE_SIZE, QueueFilter, list_queue
from helpdesk.review.services import take_next_case
from tests.factories import make_case, make_user

HX = {"HTTP_HX_REQUEST": "true"}
NOON = datetime.datetime(2026, 11, 20, 12, tzinfo=datetime.UTC)


def make_waiting(count: int, **fields: Any) -> list[Case]:
    """Open cases that have waited one hour less each."""
    cases = []
    for number in range(count):
        with clock.standing_at(NOON + datetime.timedelta(hours=number)):
            cases.append(make_case(title=f"Print {number}", **fields))
    return cases


def shown_ids(content: bytes) -> list[int]:
    """Return the cases of a queue page in their order."""
    return [int(found) for found in re.findall(rb'id="job-(\d+)"', content)]


def test_danger_stands_first_then_the_longest_wait(reviewer: User) -> None:
    """The order is danger, our turn by waiting, the person's turn, answered."""
    first, second, third, fourth, fifth = make_waiting(5)
    set_danger(fourth, "A smell of burning")
    change_state(first, CaseState.ASKED)
    change_state(second, CaseState.ANSWERED)

    page = list_queue(QueueFilter(), user=reviewer)

    assert [row.case for row in page.rows] == [fourth, third, fifth, first, second]


def test_pages_follow_each_other_without_gap_or_repeat(
    reviewer: User, as_user: Callable[[User], Client]
) -> None:
    """A case answered between two pages neither hides nor repeats another."""
    cases = make_waiting(PAGE_SIZE * 2 + 3)
    client = as_user(reviewer)
    first = client.get(reverse("review:queue"))
    change_state(cases[2], CaseState.CLOSED)
    link = re.search(rb'href="(\?[^"]*after=[^"]+)"', first.content)
    assert link is not None

    second = client.get(reverse("review:queue") + link[1].decode().replace("&amp;", "&"))

    assert shown_ids(first.content) == [case.pk for case in cases[:PAGE_SIZE]]
    assert shown_ids(second.content) == [case.pk for case in cases[PAGE_SIZE : PAGE_SIZE * 2]]
    assert b"Back to the first cases" in second.content


def test_same_moment_is_ordered_by_number(reviewer: User) -> None:
    """Cases that arrived together keep one order over pages."""
    with clock.standing_at(NOON):
        cases = [make_case() for _ in range(PAGE_SIZE + 2)]

    first = list_queue(QueueFilter(), user=reviewer)
    second = list_queue(QueueFilter(), user=reviewer, after=first.next_after)

    assert [row.case for row in (*first.rows, *second.rows)] == cases
    assert second.next_after == ""


@pytest.mark.parametrize("count", [10, 60])
def test_queue_costs_the_same_queries(
    reviewer: User,
    as_user: Callable[[User], Client],
    django_assert_num_queries: Any,
    count: int,
) -> None:
    """Ten rows or a full page: session, user, permissions, people, rows, covers, count."""
    make_waiting(count)
    client = as_user(reviewer)

    with django_assert_num_queries(8):
        client.get(reverse("review:queue"))


@pytest.mark.parametrize(
    ("query", "expected"),
    [
        ("turn=theirs", {"Asked"}),
        ("turn=ours", {"Received", "Resin owl", "Mine"}),
        ("turn=closed", {"Closed"}),
        ("who=me", {"Mine"}),
        ("who=nobody&turn=ours", {"Received", "Resin owl"}),
        ("process=VPP", {"Resin owl"}),
        ("channel=chat", {"Resin owl"}),
        ("words=resin+OWL", {"Resin owl"}),
        ("words=hollow_oak", {"Resin owl"}),
        ("words=siskin", {"Resin owl"}),
        ("words=nowhere", set()),
    ],
)
def test_filters_narrow_the_queue(
    reviewer: User, as_user: Callable[[User], Client], query: str, expected: set[str]
) -> None:
    """Turn, person, process, channel and words each narrow, alone and together."""
    make_case(title="Received")
    change_state(make_case(title="Asked"), CaseState.ASKED)
    change_state(make_case(title="Closed"), CaseState.CLOSED)
    claim_case(make_case(title="Mine").pk, user=reviewer)
    make_case(
        title="Resin owl",
        channel="chat",
        handle="hollow_oak",
        facts={"process": "VPP", "machine": "Siskin R4"},
    )

    response = as_user(reviewer).get(f"{reverse('review:queue')}?{query}")

    titles = re.findall(r"<h3[^>]*><a[^>]*>([^<]+)</a>", response.content.decode())
    assert set(titles) == expected


def test_number_as_word_finds_the_case(reviewer: User, as_user: Callable[[User], Client]) -> None:
    """A case number typed as a word finds that case, and a huge one finds none."""
    case = make_case()
    client = as_user(reviewer)

    assert shown_ids(client.get(f"/queue?words={case.pk}").content) == [case.pk]
    assert shown_ids(client.get(f"/queue?words={'9' * 40}").content) == []


@pytest.mark.parametrize(
    "query", ["turn=never", "who=99999", "process=XYZ", "after=nonsense", "after=WyIxIl0"]
)
def test_forged_filter_is_refused(
    reviewer: User, as_user: Callable[[User], Client], query: str
) -> None:
    """Addresses the desk never makes get a plain 400."""
    assert as_user(reviewer).get(f"/queue?{query}").status_code == 400


def test_fragment_holds_rows_alone_and_speaks_the_count(
    reviewer: User, as_user: Callable[[User], Client]
) -> None:
    """Htmx gets the rows; the live region gets how many there are."""
    make_waiting(PAGE_SIZE + 1)

    response = as_user(reviewer).get("/queue", **HX)  # type: ignore[arg-type]

    assert b"<html" not in response.content
    assert response.headers["Desk-Said"] == "25 cases are shown, and there are more."
    assert "HX-Request" in response.headers["Vary"]


def test_empty_queue_says_what_to_do(reviewer: User, as_user: Callable[[User], Client]) -> None:
    """Nothing waiting is a sentence and a way on, with and without filters."""
    client = as_user(reviewer)

    assert b"Nothing is waiting." in client.get("/queue").content
    assert b"No case fits these filters." in client.get("/queue?words=owl").content


def test_script_in_a_title_stays_text(reviewer: User, as_user: Callable[[User], Client]) -> None:
    """What people send is escaped in every place of a row."""
    evil = "<script>alert(1)</script>"
    make_case(title=evil, person_name=evil, facts={"machine": evil, "material": evil})

    content = as_user(reviewer).get("/queue").content

    assert b"<script>alert" not in content
    assert content.count(b"&lt;script&gt;") >= 4


def test_claim_gives_the_case_and_the_row(
    reviewer: User, as_user: Callable[[User], Client]
) -> None:
    """Htmx gets the row again, with who has it and a sentence to speak."""
    case = make_case()

    response = as_user(reviewer).post(reverse("review:claim", args=[case.pk]), **HX)  # type: ignore[arg-type]

    assert response.status_code == 200
    assert b"You have it" in response.content
    assert response.headers["Desk-Said"] == f"You have case {case.pk} now."


def test_taken_case_is_put_back_from_its_row(
    reviewer: User, as_user: Callable[[User], Client]
) -> None:
    """A press too many is undone on the spot; what a colleague has stays theirs."""
    case, theirs = make_case(), make_case()
    client = as_user(reviewer)
    taken = client.post(reverse("review:claim", args=[case.pk]), **HX)  # type: ignore[arg-type]
    assert b"Put it back" in taken.content
    claim_case(theirs.pk, user=make_user("teodor"))

    for one in (case, theirs):
        client.post(reverse("review:put_back", args=[one.pk]), **HX)  # type: ignore[arg-type]

    case.refresh_from_db()
    theirs.refresh_from_db()
    assert case.assigned_to is None
    assert theirs.assigned_to == User.objects.get(username="teodor")


@pytest.mark.parametrize("extra", [HX, {}])
def test_late_claim_tells_who_has_it(
    reviewer: User, as_user: Callable[[User], Client], extra: dict[str, str]
) -> None:
    """The second one to press gets a 409 with the name, as row or as page."""
    case = make_case()
    claim_case(case.pk, user=make_user("teodor", first_name="Teodor"))

    response = as_user(reviewer).post(reverse("review:claim", args=[case.pk]), **extra)  # type: ignore[arg-type]

    assert response.status_code == 409
    assert b"Teodor has this case" in response.content


def test_take_next_skips_what_somebody_has(
    reviewer: User, as_user: Callable[[User], Client]
) -> None:
    """The first case nobody has is taken and opened."""
    first, second, _ = make_waiting(3)
    claim_case(first.pk, user=make_user("teodor"))

    response = as_user(reviewer).post(reverse("review:take_next"))

    assert response.headers["Location"] == second.get_absolute_url()
    second.refresh_from_db()
    assert second.assigned_to == reviewer


def test_take_next_with_nothing_waiting(reviewer: User, as_user: Callable[[User], Client]) -> None:
    """Cases that wait for the person are not taken; a sentence says so."""
    change_state(make_case(), CaseState.ASKED)
    with pytest.raises(NothingToTakeError):
        take_next_case(reviewer)

    response = as_user(reviewer).post(reverse("review:take_next"), follow=True)

    assert b"Nothing waits for somebody to take it." in response.content


def own_connection(folder: Path) -> Any:
    """Return a connection to a copy of the test database in a file, as the desk uses it."""
    if connection.vendor != "sqlite":
        return connection.copy()
    connection.ensure_connection()
    path = folder / "race.sqlite3"
    with contextlib.closing(sqlite3.connect(path)) as copy:
        connection.connection.backup(copy)
        copy.execute("PRAGMA journal_mode=WAL")  # two that switch at once lock each other out
    own = connection.copy()
    own.settings_dict["NAME"] = str(path)
    return own


@pytest.mark.django_db(transaction=True)
def test_two_at_once_make_one_winner(tmp_path: Path) -> None:
    """Of two reviewers pressing at the same moment one has the case, the other is told."""
    case = make_case()
    people = [make_user("imke"), make_user("teodor")]
    shared = own_connection(tmp_path)
    start = threading.Barrier(2)
    results: list[str] = []

    def take(user: User) -> None:
        own = connections["default"] = shared.copy()
        start.wait()
        try:
            claim_case(case.pk, user=user)
            results.append("won")
        except AlreadyTakenError:
            results.append("told")
        finally:
            own.close()

    threads = [threading.Thread(target=take, args=[user]) for user in people]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sorted(results) == ["told", "won"]
    with contextlib.closing(shared), shared.cursor() as cursor:
        cursor.execute("SELECT COUNT(*) FROM cases_event WHERE kind = 'taken'")
        assert cursor.fetchone() == (1,)


def test_public_page_counts_nothing(db: None, django_assert_num_queries: Any) -> None:
    """The waiting count is read by desk pages only."""
    with django_assert_num_queries(0):
        response = Client().get(reverse("privacy"))

    assert response.status_code == 200


def test_waiting_label_stops_counting(reviewer: User, as_user: Callable[[User], Client]) -> None:
    """A hundred cases and more read "99+", and are not counted exactly."""
    Case.objects.bulk_create(
        Case(title="Print", opened_at=NOON, waiting_since=NOON, queue_rank=QueueRank.OURS)
        for _ in range(120)
    )

    assert b"99+" in as_user(reviewer).get("/queue").content


def test_keys_are_offered_only_when_on(reviewer: User, as_user: Callable[[User], Client]) -> None:
    """Single keys can be switched off for a person."""
    client = as_user(reviewer)
    assert b"data-keys" in client.get("/queue").content
    reviewer.has_keys = False
    reviewer.save()

    content = client.get("/queue").content

    assert b"data-keys" not in content
    assert b"Single keys are off." in content
