"""Figures of the week on cases small enough to count by hand."""

import datetime
from typing import Any

import pytest

from helpdesk.week.figures import (
    FEW,
    CaseTimes,
    list_figures,
    share_first_contact,
    share_reopened,
)

START = datetime.datetime(2026, 9, 1, 12, 0, tzinfo=datetime.UTC)
NOW = START + datetime.timedelta(days=40)


def _at(hours: float) -> datetime.datetime:
    return START + datetime.timedelta(hours=hours)


def _case(**times: Any) -> CaseTimes:
    """Make a case opened at the start; times are in hours after it."""
    for name in ("answered_at", "cured_at", "closed_at"):
        if name in times:
            times[name] = _at(times[name])
    return CaseTimes(opened_at=START, channel="mail", **times)


def _figures(cases: list[CaseTimes]) -> dict[str, Any]:
    return {figure.name: figure for figure in list_figures(cases, NOW)}


def test_waits_of_answered_cases_are_their_nearest_ranks() -> None:
    """Ten answers after 1 to 10 hours: half within 5, nine of ten within 9."""
    figure = _figures([_case(answered_at=n) for n in range(1, 11)])["First answer"]

    assert (figure.waits.median, figure.waits.ninetieth) == (5, 9)
    assert (figure.waits.ended, figure.waits.total) == (10, 10)


def test_open_cases_lengthen_what_is_told() -> None:
    """Six answered within six hours and six that wait: the median is the sixth, no ninth tenth."""
    answered = [_case(answered_at=n) for n in range(1, 7)]

    figure = _figures(answered + [_case()] * 6)["First answer"]

    assert (figure.waits.median, figure.waits.ninetieth) == (6, None)


def test_case_closed_unanswered_counts_until_it_was_closed() -> None:
    """Closed after two hours, it is at risk at the first answer and no longer."""
    answered = [_case(answered_at=n) for n in (1, 3, 4, 5, 6)]

    figure = _figures([*answered, _case(closed_at=2)])["First answer"]

    # By hand: 5/6, then with four at risk 5/8, 5/12, 5/24 and 0.
    assert (figure.waits.median, figure.waits.ninetieth) == (4, 6)


def test_given_up_prints_are_never_cured() -> None:
    """Five cured, five closed otherwise: half are cured by the fifth cure, and no more."""
    cured = [_case(cured_at=24 * n, closed_at=24 * n) for n in range(1, 6)]
    others = [_case(closed_at=1, result="gave_up") for _ in range(5)]

    figure = _figures(cured + others)["Cure"]

    assert (figure.waits.median, figure.waits.ninetieth) == (120, None)


def test_time_for_the_person_is_told_apart() -> None:
    """Ten hours to the answer, of which a question stood open from the second to the eighth."""
    asked = ((_at(2), _at(8)), (_at(30), None))
    cases = [_case(answered_at=10, cured_at=40, asked=asked)] * FEW

    figures = _figures(cases)

    assert figures["First answer"].waits.median == 10
    assert figures["First answer, our part"].waits.median == 4
    assert figures["Waiting for the person"].waits.median == 6
    assert figures["Cure"].waits.median == 40
    assert figures["Cure, our part"].waits.median == 40 - 6 - 10


@pytest.mark.parametrize(("count", "is_shown"), [(FEW - 1, False), (FEW, True)])
def test_figures_of_a_few_are_hidden(count: int, is_shown: bool) -> None:
    """Below five ends a figure would tell of single people."""
    assert _figures([_case(answered_at=1)] * count)["First answer"].is_shown == is_shown


def test_no_cases_give_no_figures() -> None:
    """An empty desk divides by nothing."""
    assert not any(figure.is_shown for figure in list_figures([], NOW))
    assert share_first_contact([]).share is None
    assert share_reopened([], NOW).share is None


@pytest.mark.parametrize(
    ("closing_h", "back_h", "expected"),
    [
        (24, 24 * 5, (1, 1)),
        (24, 24 * 15, (1, 1)),  # fourteen days to the hour
        (24, 24 * 15 + 1, (0, 1)),
        (24, None, (0, 1)),
        (24 * 27, 24 * 28, (0, 0)),  # closed less than fourteen days ago
    ],
)
def test_reopened_counts_returns_within_fourteen_days(
    closing_h: float, back_h: float | None, expected: tuple[int, int]
) -> None:
    """Later returns are new trouble; young closings may still come back."""
    returns = () if back_h is None else (_at(back_h),)

    part = share_reopened([_case(closings=(_at(closing_h),), returns=returns)], NOW)

    assert (part.count, part.total) == expected


def test_first_contact_wants_one_answer_and_no_question() -> None:
    """Of four cured, one needed nothing more."""
    cases = [
        _case(cured_at=9, answers=1),
        _case(cured_at=9, answers=2),
        _case(cured_at=9, answers=1, asked=((_at(1), _at(2)),)),
        _case(cured_at=9, answers=0),
        _case(answers=1),
    ]

    part = share_first_contact(cases)

    assert (part.count, part.total) == (1, 4)
