"""Which cases wait for a second look, and what agreement is made of."""

import datetime
from collections.abc import Sequence

import pytest

from helpdesk.accounts.models import User
from helpdesk.agreement.chart import HEIGHT, TOP, draw_months
from helpdesk.agreement.selectors import (
    EVERY,
    FEW,
    find_group,
    get_blind_report,
    list_judgements,
    list_months,
    list_pairs,
    list_waiting_looks,
    say_few,
)
from helpdesk.cases.models import Case, CaseState
from helpdesk.cases.services import add_note, change_state, erase_person
from helpdesk.core import clock
from helpdesk.diagnosis.models import Verdict
from helpdesk.diagnosis.opinions import ask_second_look, close_opinion, give_opinion
from helpdesk.diagnosis.services import diagnose_case, mark_finding, set_verdict
from tests.factories import make_case, make_user

pytestmark = pytest.mark.django_db


@pytest.fixture
def colleague(db: None) -> User:
    """Make the other reviewer of the demo scenario."""
    return make_user("teodor", role="reviewer", first_name="Teodor")


def close_with_verdict(case: Case, fault: str, by: User) -> Case:
    """Judge a case and close it."""
    set_verdict(case, [fault], actor=by)
    case.refresh_from_db()
    return change_state(case, CaseState.CLOSED, actor=by)


def look_at(case: Case, fault: str, by: User, *, closes: bool = True) -> None:
    """Give a blind opinion and close it."""
    give_opinion(case, [fault], reviewer=by, is_blind=True)
    if closes:
        close_opinion(case, reviewer=by)


def numbers(user: User) -> list[int]:
    """Return the numbers of the cases that wait for a reviewer's second look."""
    return [look.case.pk for look in list_waiting_looks(user)]


def test_each_so_many_th_closed_case_waits(reviewer: User, colleague: User) -> None:
    """The rule is the case's number, so nobody chooses; an open case does not wait."""
    cases = [close_with_verdict(make_case(), "filament-wet", reviewer) for _ in range(2 * EVERY)]
    make_case()

    waiting = numbers(colleague)

    assert waiting == sorted((c.pk for c in cases if c.pk % EVERY == 0), reverse=True)
    assert len(waiting) == 2
    assert numbers(reviewer) == []  # who has judged them knows them


def test_case_closed_long_ago_does_not_wait(reviewer: User, colleague: User) -> None:
    """Only the last three months are sampled."""
    with clock.standing_at(clock.now() - datetime.timedelta(days=100)):
        for _ in range(EVERY):
            close_with_verdict(make_case(), "filament-wet", reviewer)

    assert numbers(colleague) == []


def test_case_asked_for_stands_first_whatever_its_number(reviewer: User, colleague: User) -> None:
    """It need not be closed, nor have a verdict."""
    for _ in range(EVERY):
        close_with_verdict(make_case(), "filament-wet", reviewer)
    asked = next(c for c in (make_case() for _ in range(2)) if c.pk % EVERY)

    ask_second_look(asked, actor=reviewer)

    looks = list_waiting_looks(colleague)
    assert len(looks) == 2
    assert (looks[0].case, looks[0].is_asked) == (asked, True)
    assert looks[1].is_asked is False
    assert looks[0].words.startswith("The corners of my box")


def test_case_leaves_the_list_when_somebody_has_closed_a_view(
    reviewer: User, colleague: User
) -> None:
    """An open view stays in the list of who gave it, as begun; a closed one ends it for all."""
    case, third = make_case(), make_user("odalys", role="admin")
    ask_second_look(case, actor=reviewer)

    look_at(case, "filament-wet", colleague, closes=False)
    begun = [(look.case, look.is_begun) for look in list_waiting_looks(colleague)]
    others = numbers(third)
    close_opinion(case, reviewer=colleague)

    assert begun == [(case, True)]
    assert others == [case.pk]
    assert numbers(colleague) == numbers(third) == []


def test_known_and_erased_cases_do_not_wait(reviewer: User, colleague: User) -> None:
    """Who has noted something knows the case; of an erased one nothing is left."""
    noted, erased = make_case(), make_case()
    for case in (noted, erased):
        ask_second_look(case, actor=reviewer)

    add_note(noted, body="Seen on the bench.", author=colleague)
    erase_person(erased, by="the person")

    assert numbers(colleague) == []


def test_blind_report_shows_what_was_sent_and_answered(reviewer: User) -> None:
    """The title and what reviewers set stay covered; what the person answered does not."""
    case = make_case(
        title="Wet spool again",
        facts_as_sent={"material": "PLA", "speed_mm_s": "60", "title": "Strings"},
    )
    diagnose_case(case.pk, cause="report received")
    mark_finding(case, "popping-sounds", "present", source="person")
    mark_finding(case, "corners-lifted", "absent", actor=reviewer)

    report = get_blind_report(case)

    assert report.facts == {"material": "PLA", "speed, mm/s": "60"}
    assert [(info.id, state) for info, state in report.answers] == [("popping-sounds", "present")]
    assert "Wet spool" not in str(report)


def judge(reviewer: User, colleague: User, faults: Sequence[tuple[str, str]]) -> None:
    """Let one reviewer judge cases, and the other look at each blind."""
    for verdict, opinion in faults:
        case = make_case()
        set_verdict(case, [verdict], actor=reviewer)
        look_at(case, opinion, colleague)


def test_pair_agrees_as_reckoned_by_hand(reviewer: User, colleague: User) -> None:
    """Of 12 cases 8 alike; each names two faults six times: kappa (2/3 - 1/2) / (1/2)."""
    wet, belt = "filament-wet", "belt-loose"
    judge(
        reviewer,
        colleague,
        [(wet, wet)] * 4 + [(belt, belt)] * 4 + [(wet, belt)] * 2 + [(belt, wet)] * 2,
    )

    (pair,) = list_pairs(list_judgements())

    assert pair.names == ("Imke", "Teodor")
    assert (pair.agreement.observed.successes, pair.agreement.observed.trials) == (8, 12)
    assert pair.agreement.kappa == pytest.approx(1 / 3)
    assert pair.is_telling
    assert pair.caution == "Few; take it as a hint."


def test_open_opinions_and_taken_back_verdicts_do_not_count(
    reviewer: User, colleague: User
) -> None:
    """A view may change until it is closed; a verdict that was withdrawn is nobody's."""
    open_case, withdrawn = make_case(), make_case()
    set_verdict(open_case, ["filament-wet"], actor=reviewer)
    look_at(open_case, "filament-wet", colleague, closes=False)
    set_verdict(withdrawn, ["filament-wet"], actor=reviewer)
    set_verdict(withdrawn, [], actor=reviewer)
    look_at(withdrawn, "filament-wet", colleague)

    assert list_pairs(list_judgements()) == []


def test_verdict_counts_as_it_stood_when_the_view_was_closed(
    reviewer: User, colleague: User
) -> None:
    """A verdict changed after reading the opinion does not make the two agree."""
    case = make_case()
    set_verdict(case, ["belt-loose"], actor=reviewer)
    look_at(case, "filament-wet", colleague)

    with clock.standing_at(clock.now() + datetime.timedelta(hours=1)):
        set_verdict(case, ["filament-wet"], actor=reviewer)

    assert list_judgements() == [{reviewer.pk: "belt-loose", colleague.pk: "filament-wet"}]


def test_blind_opinion_outweighs_the_verdict_of_the_same_person(colleague: User) -> None:
    """Who looked blind first and judged afterwards counts with what was seen blind."""
    case = make_case()
    look_at(case, "filament-wet", colleague)
    with clock.standing_at(clock.now() + datetime.timedelta(hours=1)):
        set_verdict(case, ["belt-loose"], actor=colleague)

    assert list_judgements() == [{colleague.pk: "filament-wet"}]
    assert list_pairs(list_judgements()) == []


def test_three_reviewers_make_pairs_and_a_group(reviewer: User, colleague: User) -> None:
    """Pairs stand by name, never by how well they agree; the group needs enough cases."""
    third = make_user("odalys", role="admin", first_name="Odalys")
    judge(reviewer, colleague, [("filament-wet", "filament-wet"), ("ringing", "belt-loose")])
    judge(third, colleague, [("ringing", "ringing")] * FEW)

    judged = list_judgements()

    assert [pair.names for pair in list_pairs(judged)] == [
        ("Imke", "Teodor"),
        ("Odalys", "Teodor"),
    ]
    assert not list_pairs(judged)[0].is_telling
    group = find_group(judged)
    assert group is not None
    assert group.count == FEW + 2
    assert find_group(judged[:2]) is None


def test_months_count_places_before_the_verdict(reviewer: User) -> None:
    """First, third, fourth and unranked: one in four leads, two in four are among three."""
    for place in (1, 3, 4, None):
        case = make_case()
        diagnose_case(case.pk, cause="report received")
        set_verdict(case, ["filament-wet"], actor=reviewer)
        Verdict.objects.filter(case=case).update(desk_place=place)
    never_run = make_case()
    set_verdict(never_run, ["filament-wet"], actor=reviewer)

    (month,) = list_months()

    assert (month.first.successes, month.first.trials) == (1, 4)
    assert (month.among.successes, month.among.trials) == (2, 4)
    assert month.start == clock.today().replace(day=1)
    assert month.caution == "Too few to say anything."


def test_drawing_stands_within_its_frame(reviewer: User) -> None:
    """Every whisker holds its mark and none leaves the rules of 0 and 100 %."""
    case = make_case()
    diagnose_case(case.pk, cause="report received")
    set_verdict(case, ["filament-wet"], actor=reviewer)

    chart = draw_months(list_months())

    for column in chart.columns:
        for whisker in (column.first, column.among):
            assert TOP <= whisker.top <= whisker.y <= whisker.top + whisker.length + 0.1
            assert whisker.top + whisker.length <= TOP + HEIGHT
            assert 0 < whisker.x < chart.right
    assert [line.y for line in chart.grid] == sorted((line.y for line in chart.grid), reverse=True)


@pytest.mark.parametrize(
    ("count", "words"),
    [(9, "Too few to say anything."), (10, "Few; take it as a hint."), (30, "")],
)
def test_words_warn_of_few_cases(count: int, words: str) -> None:
    """Below ten nothing is said, below thirty it is a hint."""
    assert say_few(count) == words
