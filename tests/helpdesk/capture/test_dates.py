"""Dates in tables: ISO 8601 first, the rest by shape, and nothing guessed that has two meanings."""

import datetime
from email.utils import parsedate_to_datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from helpdesk.capture.dates import DateOrder, UnreadableDateError, find_order, read_moment

UTC = datetime.UTC
DAY = datetime.date(2026, 3, 4)


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-04",
        "2026/03/04",
        "2026-3-4",
        "04.03.2026",
        "4. 3. 2026",
        "4 March 2026",
        "4th Mar 2026",
        "Mar 4, 2026",
        "March 4 2026",
        "04-Mar-2026",
    ],
)
def test_plain_dates_need_no_order(text: str) -> None:
    moment = read_moment(text, order=None)

    assert (moment.date(), moment.hour) == (DAY, 12)


def test_three_numbers_follow_the_order() -> None:
    assert read_moment("03/04/2026", order=DateOrder.MONTH_FIRST).date() == DAY
    assert read_moment("04/03/2026", order=DateOrder.DAY_FIRST).date() == DAY
    assert read_moment("04-03-2026", order=DateOrder.DAY_FIRST).date() == DAY
    with pytest.raises(UnreadableDateError, match="please choose"):
        read_moment("03/04/2026", order=None)


def test_same_day_and_month_has_one_meaning() -> None:
    assert read_moment("05/05/2026", order=None).date() == datetime.date(2026, 5, 5)


@pytest.mark.parametrize(
    ("texts", "order"),
    [
        (["03/04/2026", "25/04/2026"], DateOrder.DAY_FIRST),
        (["03/04/2026", "04/25/2026"], DateOrder.MONTH_FIRST),
        (["03/04/2026", "05/06/2026"], DateOrder.ASK),
        (["25/04/2026", "04/25/2026"], DateOrder.ASK),
        (["2026-03-04", "4 March 2026", ""], None),
        (["05/05/2026"], None),
        ([], None),
    ],
)
def test_order_is_found_or_asked(texts: list[str], order: DateOrder | None) -> None:
    assert find_order(texts) == order


@given(
    st.datetimes(
        datetime.datetime(1990, 1, 2),  # noqa: DTZ001 - hypothesis adds the zone
        datetime.datetime(2100, 1, 1),  # noqa: DTZ001 - as above
        timezones=st.just(UTC),
    )
)
def test_iso_moments_agree_with_the_standard_library(moment: datetime.datetime) -> None:
    moment = moment.replace(microsecond=0)

    assert read_moment(moment.isoformat(), order=None) == moment
    assert read_moment(f"{moment:%Y-%m-%dT%H:%M:%SZ}", order=None) == moment


def test_words_agree_with_the_standard_library() -> None:
    """RFC 5322 section 3.3 writes days with the month's name."""
    expected = parsedate_to_datetime("25 Nov 2026 18:03:11 +0100")

    assert read_moment("25 Nov 2026 18:03:11 +0100", order=None) == expected


def test_half_days_are_read() -> None:
    assert read_moment("2026-03-04 12:05 am", order=None).hour == 0
    assert read_moment("2026-03-04 12:05 PM", order=None).hour == 12
    assert read_moment("2026-03-04 6:03 p.m.", order=None).hour == 18


@pytest.mark.parametrize(
    "text",
    [
        "31/11/2026",
        "2026-02-30",
        "2026-13-01",
        "25:00",
        "45986",
        "04/03/26",
        "soon",
        "",
        "2026-03-04 25:00",
        "2026-03-04 13:00 pm",
        "0004-03-04",
        "4 Foo 2026",
    ],
)
def test_what_is_no_date_is_refused(text: str) -> None:
    with pytest.raises(UnreadableDateError):
        read_moment(text, order=DateOrder.DAY_FIRST)
