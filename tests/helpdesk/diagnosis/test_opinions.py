"""Second looks: blind, once a reviewer, and fixed once closed."""

import pytest

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case
from helpdesk.cases.services import add_note, claim_case, erase_person, hand_on_case
from helpdesk.core.errors import RefusedInputError, WrongStateError
from helpdesk.diagnosis.errors import NotBlindError, OpinionClosedError, UnknownThingError
from helpdesk.diagnosis.models import Opinion
from helpdesk.diagnosis.opinions import (
    ask_second_look,
    close_opinion,
    give_opinion,
    has_open_opinion,
    has_worked_on,
)
from helpdesk.diagnosis.services import set_verdict
from tests.factories import make_case, make_user

pytestmark = pytest.mark.django_db


@pytest.fixture
def colleague(db: None) -> User:
    """Make the other reviewer of the demo scenario."""
    return make_user("teodor", role="reviewer", first_name="Teodor")


def give(case: Case, *faults: str, reviewer: User, sureness: str = "") -> Opinion:
    """Give a blind opinion."""
    return give_opinion(case, faults, reviewer=reviewer, sureness=sureness, is_blind=True)


def test_opinion_keeps_the_faults_in_their_order(reviewer: User) -> None:
    """The main fault stays first, each is kept once with its name."""
    case = make_case()

    opinion = give(
        case, "filament-wet", "belt-loose", "filament-wet", reviewer=reviewer, sureness="likely"
    )

    opinion.refresh_from_db()
    assert [fault["fault"] for fault in opinion.faults] == ["filament-wet", "belt-loose"]
    assert all(fault["name"] for fault in opinion.faults)
    assert (opinion.sureness, opinion.reviewer_name) == ("likely", "Imke")
    assert has_open_opinion(case, reviewer)


def test_opinion_may_be_corrected_until_it_is_closed(reviewer: User) -> None:
    """There is one row for each reviewer; after closing it stays as it is."""
    case = make_case()
    give(case, "filament-wet", reviewer=reviewer)

    give(case, "belt-loose", reviewer=reviewer)
    closed = close_opinion(case, reviewer=reviewer)
    with pytest.raises(OpinionClosedError, match="stays as it is"):
        give(case, "filament-wet", reviewer=reviewer)

    kept = Opinion.objects.get()
    assert [fault["fault"] for fault in kept.faults] == ["belt-loose"]
    assert kept.closed_at == closed.closed_at
    assert not has_open_opinion(case, reviewer)


def test_record_tells_what_was_named_only_after_closing(reviewer: User) -> None:
    """The case page shows the record, so an open opinion leaves no fault in it."""
    case = make_case()

    give(case, "filament-wet", reviewer=reviewer)
    give(case, "filament-wet", reviewer=reviewer)  # the same again is no correction
    give(case, "belt-loose", reviewer=reviewer)
    before = [event.what for event in case.events.filter(kind="second_look").order_by("pk")]
    opinion = close_opinion(case, reviewer=reviewer)
    close_opinion(case, reviewer=reviewer)

    assert before == ["Second look taken", "Second look corrected"]
    last = case.events.filter(kind="second_look").order_by("pk").last()
    assert last is not None
    assert last.what == f"Second look: {opinion.faults[0]['name']}"
    assert case.events.filter(kind="second_look").count() == 3


@pytest.mark.parametrize("deed", ["take", "note", "verdict", "ask"])
def test_who_has_worked_on_a_case_cannot_look_at_it_blind(reviewer: User, deed: str) -> None:
    """Having had it, noted, judged or asked for the look counts as having seen it."""
    case = make_case()
    if deed == "take":
        claim_case(case.pk, user=reviewer)
        case.refresh_from_db()
        hand_on_case(case, actor=reviewer)
    elif deed == "note":
        add_note(case, body="Seen on the bench.", author=reviewer)
    elif deed == "verdict":
        set_verdict(case, ["filament-wet"], actor=reviewer)
    else:
        ask_second_look(case, actor=reviewer)

    with pytest.raises(NotBlindError, match="cannot look at it blind"):
        give(case, "filament-wet", reviewer=reviewer)

    assert has_worked_on(case, reviewer)
    assert not Opinion.objects.exists()


def test_two_reviewers_give_one_opinion_each(reviewer: User, colleague: User) -> None:
    """The second knows nothing of the first and adds a row of their own."""
    case = make_case()

    give(case, "filament-wet", reviewer=reviewer)
    give(case, "belt-loose", reviewer=colleague)

    assert Opinion.objects.filter(case=case).count() == 2


@pytest.mark.parametrize(
    ("faults", "sureness", "is_blind", "error", "message"),
    [
        ([], "", True, RefusedInputError, "Name 1 to 3 faults; these are 0"),
        (
            ["filament-wet", "belt-loose", "ringing", "elephant-foot"],
            "",
            True,
            RefusedInputError,
            "these are 4",
        ),
        (["filament-wett"], "", True, UnknownThingError, "no fault called"),
        (["filament-wet"], "very", True, RefusedInputError, "sure, fairly sure or not sure"),
        (["filament-wet"], "", False, RefusedInputError, "seen nothing but the report"),
    ],
)
def test_opinion_that_cannot_be_used_is_refused(
    reviewer: User,
    faults: list[str],
    sureness: str,
    is_blind: bool,
    error: type[Exception],
    message: str,
) -> None:
    """The message says why, and nothing is kept."""
    with pytest.raises(error, match=message):
        give_opinion(make_case(), faults, reviewer=reviewer, sureness=sureness, is_blind=is_blind)

    assert not Opinion.objects.exists()


def test_closing_needs_an_opinion(reviewer: User) -> None:
    """Nothing is closed that was not given."""
    with pytest.raises(WrongStateError, match="not said yet"):
        close_opinion(make_case(), reviewer=reviewer)


def test_asking_twice_asks_once(reviewer: User, colleague: User) -> None:
    """The first wish stays, with one line in the record."""
    case = make_case()

    first = ask_second_look(case, actor=reviewer)
    second = ask_second_look(case, actor=colleague)

    assert (second.pk, second.asked_by) == (first.pk, reviewer)
    assert case.events.filter(kind="second_look_asked").count() == 1


def test_erased_case_has_nothing_to_look_at(reviewer: User) -> None:
    """Neither a wish nor an opinion is kept of it; one kept before names nobody who sent it."""
    case = make_case()
    erase_person(case, by="the person")

    with pytest.raises(WrongStateError, match="erased"):
        ask_second_look(case, actor=reviewer)
    with pytest.raises(WrongStateError, match="erased"):
        give(case, "filament-wet", reviewer=reviewer)


def test_opinion_outlives_its_reviewers_account(reviewer: User) -> None:
    """The name stays beside it when the account is removed."""
    case = make_case()
    give(case, "filament-wet", reviewer=reviewer)
    close_opinion(case, reviewer=reviewer)

    reviewer.delete()

    kept = Opinion.objects.get()
    assert (kept.reviewer, kept.reviewer_name) == (None, "Imke")
