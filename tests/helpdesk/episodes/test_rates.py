"""How fast presenters speak, and how that becomes the length of a part."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from helpdesk.episodes.lengths import NOTHING, POINTS, SCRIPT, count_spoken, measure_part
from helpdesk.episodes.models import FREE_TALK_WPM, PresenterRate, Segment
from helpdesk.episodes.rates import PRIOR_S, Rate, learn_rate, rate_for
from helpdesk.episodes.selectors import get_run_sheet
from helpdesk.episodes.services import change_segment, make_episode
from tests.helpdesk.episodes.test_shows import START


@pytest.mark.django_db
def test_rate_before_any_is_measured_is_free_talk():
    assert rate_for("Imke") == Rate(175)
    assert rate_for("", unmeasured_wpm=160) == Rate(160)


@pytest.mark.django_db
def test_rate_is_drawn_to_free_talk_by_five_minutes():
    """After 600 s at 140: (1400 + 175 x 5) words in (600 + 300) s are 151.7 a minute."""
    learn_rate("Imke Sandoval", 1400, 600)

    rate = rate_for("imke  SANDOVAL")

    assert (rate.words_per_minute, rate.is_measured) == (152, True)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("words", "seconds"),
    [(29, 20), (90, 19.9), (100, 101), (500, 99), (60, 0), (60, float("nan")), (60, float("inf"))],
)
def test_rate_learns_nothing_from_a_short_part_or_a_rate_nobody_speaks_at(words, seconds):
    """Under 20 s, under 30 words, under 60 or over 300 words a minute."""
    assert learn_rate("Imke", words, seconds) is None
    assert not PresenterRate.objects.exists()


@pytest.mark.django_db
@pytest.mark.parametrize(("words", "seconds"), [(30, 20), (100, 100), (500, 100)])
def test_rate_learns_from_the_least_that_tells(words, seconds):
    assert learn_rate("Imke", words, seconds)


@pytest.mark.django_db
def test_part_read_again_replaces_what_it_taught():
    learn_rate("Imke", 300, 100, key="part:1")
    learn_rate("Imke", 150, 60, key="part:2")
    learn_rate("Teodor", 160, 60, key="part:1")

    assert (rate_for("Imke").words, rate_for("Imke").seconds) == (150, 60)
    assert rate_for("Teodor").words == 160

    learn_rate("Teodor", 10, 3, key="part:1")
    assert not rate_for("Teodor").is_measured


@pytest.mark.django_db(transaction=False)
def test_nobody_has_no_rate():
    assert learn_rate("  ", 300, 100) is None


@given(st.integers(30, 20000), st.floats(20, 6000))
def test_shrunk_rate_lies_between_free_talk_and_what_was_heard(words, seconds):
    """The law of the drawn rate, without a database: a mean weighted by seconds."""
    heard = words * 60 / seconds
    drawn = (words + FREE_TALK_WPM * PRIOR_S / 60) * 60 / (seconds + PRIOR_S)

    low, high = sorted([heard, float(FREE_TALK_WPM)])
    assert low - 1e-9 <= drawn <= high + 1e-9


@pytest.mark.source("rodero2012")
@pytest.mark.parametrize(("rate", "seconds"), [(160, 375), (180, 334)])
def test_thousand_words_at_the_recommended_rates_of_reading(rate, seconds):
    """160 to 180 words a minute are recommended for reading; a part is rounded up to a second."""
    segment = Segment(script="word " * 1000)

    assert measure_part(segment, rate=Rate(rate)).seconds == seconds


@pytest.mark.parametrize(
    ("script", "points", "expected"),
    [
        ("Three spoken words", "One\nTwo", (SCRIPT, 3)),
        (" – \n", "A belt skipped\n\nTwice – on one side", (POINTS, 14)),
        ("", "", (NOTHING, 0)),
    ],
)
def test_points_are_spoken_at_twice_their_words_when_there_is_no_script(script, points, expected):
    assert count_spoken(script, points) == expected


def test_length_adds_words_cautions_pictures_and_fixed_time():
    """At 180 a minute: 60 words are 20 s, 30 of cautions 10 s; then 16 s of pictures, 5 fixed."""
    segment = Segment(script="word " * 60, fixed_s=5)

    length = measure_part(segment, rate=Rate(180), cautions=["word " * 30], pictures_s=16)

    assert (length.seconds, length.words, length.caution_words) == (51, 90, 30)


@pytest.mark.django_db
def test_each_part_is_planned_at_the_rate_of_whoever_speaks_it():
    learn_rate("Imke", 14000, 6000)  # 140 a minute, drawn to 141.7
    episode = make_episode(
        number=38, title="Knocks", starts_at=START, slot_s=1200, words_per_minute=180
    )
    for segment, name in zip(episode.segments.all()[:2], ("Imke", "Teodor"), strict=True):
        values = {"presenter": name, "script": "word " * 180, "fixed_s": 0}
        change_segment(segment, values)

    sheet = get_run_sheet(episode)

    assert [row.seconds for row in sheet.rows[:2]] == [77, 60]
    assert [name for name, _ in sheet.measured] == ["Imke"]
