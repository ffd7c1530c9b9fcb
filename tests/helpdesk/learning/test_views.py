"""The learning pages: who gets in, what stands there, and that a switch wants a reason."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.core.jobs import run_due_jobs
from helpdesk.core.models import Job
from helpdesk.diagnosis.models import KnowledgeRevision, RevisionSwitch
from helpdesk.learning.selectors import find_in_force
from helpdesk.learning.services import make_revision, put_in_force
from tests.helpdesk.learning.cases import settled
from triage.learning import BASIS_WEIGHT, EVEN_LOOKS, PUBLISHED_LOOKS

LogIn = Callable[[User], Client]
LIST = "learning:learning"

pytestmark = pytest.mark.django_db


@pytest.fixture
def client(desk_admin: User, as_user: LogIn) -> Client:
    """Return the browser of somebody who runs the desk."""
    return as_user(desk_admin)


def switch_of(number: int) -> str:
    """Return the address that puts a revision in force."""
    return reverse("learning:switch", args=[number])


def read(client: Client, address: str) -> str:
    """Return a page's content."""
    response = client.get(address)
    assert response.status_code == 200
    return response.content.decode()


@pytest.mark.parametrize("who", ["reviewer", "producer"])
def test_pages_are_for_those_who_run_the_desk(
    who: str, request: pytest.FixtureRequest, as_user: LogIn, reviewer: User
) -> None:
    """Others are refused, cannot start learning and cannot switch, and see no tab."""
    settled(reviewer)
    make_revision(1)
    client = as_user(request.getfixturevalue(who))

    for address in (reverse(LIST), reverse("learning:revision", args=[1]), switch_of(1)):
        assert client.get(address).status_code == 403
    assert client.post(reverse("learning:learn")).status_code == 403
    assert client.post(switch_of(1), {"why": "I like it"}).status_code == 403
    assert reverse(LIST) not in read(client, reverse("review:queue"))
    assert not RevisionSwitch.objects.exists()
    assert not Job.objects.filter(kind="learn-revision").exists()


def test_empty_desk_says_what_is_missing(client: Client) -> None:
    """Without a verdict there is no button; without a revision nothing to compare."""
    page = read(client, reverse(LIST))

    assert "No case has a verdict yet" in page
    assert "Nothing has been learned yet" in page
    assert "Learn from the cases so far" not in page
    assert "There is nothing to compare yet" in read(client, reverse("learning:compare"))
    refused = client.post(reverse("learning:learn"), follow=True).content.decode()
    assert "nothing to learn from" in refused


def test_weights_are_the_constants_of_the_engine(client: Client) -> None:
    """What a suggestion accepted by us weighs stands on the page, with the reason."""
    page = read(client, reverse(LIST))

    for value in (*BASIS_WEIGHT.values(), *EVEN_LOOKS.values(), PUBLISHED_LOOKS):
        assert f">{value:g}" in page
    assert f"counts {BASIS_WEIGHT['accepted']:g} of a cure" in page
    assert "without having been right once" in page


def test_button_makes_a_revision_in_the_background(client: Client, reviewer: User) -> None:
    """The page says that the desk is learning, then lists the revision, not in force."""
    settled(reviewer, 3)

    client.post(reverse("learning:learn"), {"note": "After the fair"})
    waiting = read(client, reverse(LIST))
    run_due_jobs()
    done = read(client, reverse(LIST))

    assert "The desk is learning from 3 cases" in waiting
    assert "The desk is learning from" not in done
    assert "After the fair" in done
    assert "3 cured" in done
    assert "not in force" in done
    assert find_in_force() is None


def test_note_beyond_measure_is_refused(client: Client, reviewer: User) -> None:
    """Nothing starts, and the field says why."""
    settled(reviewer)

    response = client.post(reverse("learning:learn"), {"note": "x" * 501})

    assert response.status_code == 422
    assert "data-refused" in response.content.decode()
    assert not Job.objects.filter(kind="learn-revision").exists()


def test_revision_shows_what_it_is_made_of(client: Client, reviewer: User) -> None:
    """Lessons, foresight as drawing and table, what moved, and where to go on."""
    settled(reviewer, 4)
    make_revision(1, by=reviewer, note="First")

    page = read(client, reverse("learning:revision", args=[1]))

    for words in ("Revision 1", "First", "How well it foresees", "<polyline", "Mean log-loss"):
        assert words in page
    assert "Corners lift as the material shrinks" in page
    assert f'href="{switch_of(1)}"' in page
    assert 'role="img"' in page


def test_revision_without_a_judge_says_so(client: Client, reviewer: User) -> None:
    """Accepted suggestions alone draw no curve."""
    settled(reviewer)
    made = make_revision(1)
    KnowledgeRevision.objects.update(prequential={**made.prequential, "foreseen": []})

    page = read(client, reverse("learning:revision", args=[1]))

    assert "No case can judge it yet" in page
    assert "<polyline" not in page
    assert "–" in read(client, reverse(LIST))


def test_outdated_revision_is_marked(client: Client, reviewer: User, desk_admin: User) -> None:
    """List, page and what is in force tell that the expert's knowledge has moved on."""
    settled(reviewer)
    put_in_force(make_revision(1), actor=desk_admin, why="Try")
    KnowledgeRevision.objects.update(expert_version="older")

    listed = read(client, reverse(LIST))
    assert "older expert knowledge" in listed
    assert "has changed since it was learned" in listed
    shown = read(client, reverse("learning:revision", args=[1]))
    assert "has changed since this was learned" in shown


def test_comparison_takes_any_two(client: Client, reviewer: User) -> None:
    """Two revisions, either way, or one with itself; what is no revision is not understood."""
    settled(reviewer, 2)
    make_revision(1)
    settled(reviewer, 3)
    make_revision(2)
    address = reverse("learning:compare")

    assert "Numbers that moved" in read(client, address)
    assert "Numbers that moved" in read(client, f"{address}?before=2&after=1")
    assert "No number differs" in read(client, f"{address}?before=2&after=2")
    for query in ("before=7", "after=x", "before="):
        assert client.get(f"{address}?{query}").status_code == 400


def test_switch_asks_first_and_wants_a_reason(client: Client, reviewer: User) -> None:
    """The page shows what would change; without a reason nothing does."""
    settled(reviewer, 2)
    made = make_revision(1)

    page = read(client, switch_of(1))
    refused = client.post(switch_of(1), {"why": "  "})
    assert find_in_force() is None
    done = client.post(switch_of(1), {"why": "It foresees better"}, follow=True)

    assert "Put revision 1 in force?" in page
    assert "Numbers that moved" in page
    assert refused.status_code == 422
    assert "Please say why" in refused.content.decode()
    assert find_in_force() == made
    shown = done.content.decode()
    assert "It foresees better" in shown
    assert "Odalys" in shown


def test_rolling_back_is_a_switch_of_its_own(client: Client, reviewer: User) -> None:
    """To the expert's numbers or an older revision; the history keeps every step."""
    settled(reviewer, 2)
    make_revision(1)
    settled(reviewer, 1)
    make_revision(2)

    for number, why in ((2, "Newer"), (1, "The older was better"), (0, "Back to the beginning")):
        client.post(switch_of(number), {"why": why})

    numbers = [s.revision and s.revision.number for s in RevisionSwitch.objects.all()]
    assert numbers == [2, 1, None]
    page = read(client, reverse(LIST))
    for words in ("Newer", "The older was better", "Back to the beginning"):
        assert words in page


def test_same_switch_twice_is_told(client: Client, reviewer: User) -> None:
    """A colleague was faster: the form comes back and says so."""
    settled(reviewer)
    make_revision(1)
    client.post(switch_of(1), {"why": "Once"})

    response = client.post(switch_of(1), {"why": "Twice"})

    assert response.status_code == 422
    assert "Revision 1 is in force already" in response.content.decode()
    assert RevisionSwitch.objects.count() == 1


def test_pages_cost_no_query_more_with_more_lessons(
    client: Client, reviewer: User, django_assert_max_num_queries: Callable[..., object]
) -> None:
    """Neither the list nor a revision asks for its cases one by one."""
    settled(reviewer, 5)
    make_revision(1)

    for address in (reverse(LIST), reverse("learning:revision", args=[1])):
        with django_assert_max_num_queries(14):  # type: ignore[attr-defined]
            read(client, address)
