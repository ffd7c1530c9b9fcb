"""The run sheet's arithmetic against published examples and its own laws.

Sources, beside their checks:
- "Back timing", Dilettante's Dictionary: a three-minute last item in a thirty-minute show.
- "Backtiming the news", School Video News: two chains that end at one moment; a half-hour slot.
- P. Stewart, Get a Better Broadcast Voice, no. 0370: three words a second when reading aloud.
"""

import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from helpdesk.episodes.timing import (
    Part,
    count_words,
    over_before_hits,
    planned_seconds,
    spoken_seconds,
    time_sheet,
)

START = datetime.datetime(2026, 11, 26, 20, 0, tzinfo=datetime.UTC)


def at(seconds: float) -> datetime.datetime:
    """Return a moment counted from the start of the show."""
    return START + datetime.timedelta(seconds=seconds)


def clock(text: str) -> datetime.datetime:
    """Return a clock time of the test's evening."""
    hours, minutes = map(int, text.split(":"))
    return START.replace(hour=hours, minute=minutes)


def test_back_time_of_three_minutes_in_a_thirty_minute_show_is_27_00():
    """The last item of three minutes must roll at 27:00 [Dilettante's Dictionary]."""
    sheet = time_sheet([Part(1500), Part(180)], starts_at=START, hard_end=at(1800))

    assert sheet.parts[-1].back == at(27 * 60)


@pytest.mark.parametrize(
    ("minutes", "expected"),
    [((240, 30), ("14:30", "18:30")), ((20, 10), ("18:30", "18:50"))],
)
def test_back_times_chain_from_the_common_end(minutes, expected):
    """Each start is the next start less its own length [School Video News]."""
    parts = [Part(m * 60) for m in minutes]

    sheet = time_sheet(parts, starts_at=clock("12:00"), hard_end=clock("19:00"))

    assert [p.back for p in sheet.parts] == [clock(t) for t in expected]


def test_back_time_of_roast_and_oven_follow_the_printed_dinner():
    """Serve at 19:00: four hours of roast go in at 15:00, the oven goes on at 14:30."""
    oven, roast = 30 * 60, 4 * 3600

    sheet = time_sheet([Part(oven), Part(roast)], starts_at=clock("14:00"), hard_end=clock("19:00"))

    assert [p.back for p in sheet.parts] == [clock("14:30"), clock("15:00")]


def test_sheet_of_five_items_is_light_by_thirty_seconds():
    """Slot 1800 s, items 60, 420, 600, 540, 150: worked out by hand, light by 30 throughout."""
    lengths = [60, 420, 600, 540, 150]

    sheet = time_sheet([Part(s) for s in lengths], starts_at=START, hard_end=at(1800))

    assert [p.front for p in sheet.parts] == [at(s) for s in (0, 60, 480, 1080, 1620)]
    assert [p.back for p in sheet.parts] == [at(s) for s in (30, 90, 510, 1110, 1650)]
    assert {p.over_s for p in sheet.parts} == {-30}
    assert (sheet.total_s, sheet.over_s) == (1770, -30)


def test_part_with_hit_time_waits_when_the_show_is_early():
    """An early show waits for the fixed time; what comes before is timed against it."""
    parts = [Part(600), Part(60, hit_at=at(660)), Part(500)]

    sheet = time_sheet(parts, starts_at=START, hard_end=at(1200))

    assert sheet.parts[0].over_s == -60
    assert sheet.parts[1].front == at(660)
    assert sheet.parts[2].over_s == sheet.over_s == 20
    assert over_before_hits(parts, sheet) == [(1, -60)]


def test_part_with_hit_time_starts_late_when_the_show_is_late():
    """Lateness at a fixed time is shown as over and carried on."""
    parts = [Part(700), Part(60, hit_at=at(660))]

    sheet = time_sheet(parts, starts_at=START, hard_end=at(900))

    assert sheet.parts[1].front == at(700)
    assert over_before_hits(parts, sheet) == [(1, 40)]


@pytest.mark.parametrize(("words", "seconds"), [(60, 20), (90, 30)])
def test_spoken_time_at_three_words_a_second(words, seconds):
    """180 words a minute are three a second [Stewart]."""
    assert spoken_seconds(words, 180) == seconds


@pytest.mark.parametrize(("rate", "seconds"), [(150, 400), (160, 375), (180, 334)])
def test_planned_time_of_a_thousand_words_is_rounded_up(rate, seconds):
    """A part is never planned shorter than its words take."""
    assert planned_seconds(1000, rate, 0) == seconds


def test_planned_time_adds_the_fixed_part():
    assert planned_seconds(60, 180, 45) == 65


def test_spoken_seconds_refuses_a_rate_of_nothing():
    with pytest.raises(ValueError, match="cannot be spoken"):
        spoken_seconds(10, 0)


def test_count_words_leaves_out_dashes():
    assert count_words("The tray – the grey one – curled.") == 6


@given(st.lists(st.integers(0, 900), min_size=1, max_size=12), st.integers(60, 5400))
def test_over_equals_sum_minus_slot_for_every_part_without_hit_times(lengths, slot):
    """Front minus back is the same everywhere: the sum of lengths less the slot."""
    sheet = time_sheet([Part(s) for s in lengths], starts_at=START, hard_end=at(slot))

    assert {p.over_s for p in sheet.parts} == {sum(lengths) - slot}


@given(st.permutations([30, 90, 240, 600]))
def test_order_changes_times_but_not_the_total(lengths):
    sheet = time_sheet([Part(s) for s in lengths], starts_at=START, hard_end=at(1000))

    assert (sheet.total_s, sheet.over_s) == (960, -40)


@given(st.lists(st.integers(0, 900), min_size=1, max_size=12), st.integers(60, 5400))
def test_back_time_of_each_part_is_that_of_the_next_less_its_length(lengths, slot):
    """Each start is the next start less the part's own length; the last lands on the hard end."""
    sheet = time_sheet([Part(s) for s in lengths], starts_at=START, hard_end=at(slot))

    ends = [part.back for part in sheet.parts[1:]] + [at(slot)]
    for part, length, end in zip(sheet.parts, lengths, ends, strict=True):
        assert part.back + datetime.timedelta(seconds=length) == end


def test_front_and_back_times_are_equal_only_when_the_show_is_to_time():
    """Front time and back-time meet everywhere exactly when the lengths fill the slot."""
    lengths = [60, 420, 600, 540, 180]

    sheet = time_sheet([Part(s) for s in lengths], starts_at=START, hard_end=at(1800))

    assert [p.front for p in sheet.parts] == [p.back for p in sheet.parts]
    assert sheet.over_s == 0


def test_show_of_a_half_hour_less_half_a_minute_is_1770_seconds():
    """18:00:00 to 18:29:30 is a slot of 1770 s; ten items of three minutes are 30 s heavy."""
    start = START.replace(hour=18)
    end = start.replace(minute=29, second=30)

    sheet = time_sheet([Part(180)] * 10, starts_at=start, hard_end=end)

    assert (sheet.total_s, sheet.over_s) == (1800, 30)


def test_empty_sheet_ends_when_it_starts():
    sheet = time_sheet([], starts_at=START, hard_end=at(60))

    assert (sheet.total_s, sheet.ends_at, sheet.over_s) == (0, START, -60)
