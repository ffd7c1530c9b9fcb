"""What a producer may type into the episode forms."""

from typing import Any

import pytest
from django import forms

from helpdesk.episodes.forms import EpisodeForm, LengthField


def fill(**changes: Any) -> EpisodeForm:
    """Return the form of a usual episode with some fields changed."""
    usual = {
        "number": "41",
        "title": "Corners",
        "starts_at": "2026-12-03T20:00",
        "slot_s": "20:00",
        "words_per_minute": "165",
    }
    return EpisodeForm(usual | changes)


@pytest.mark.parametrize(("typed", "seconds"), [("1:30", 90), ("90", 90), ("0:05", 5)])
def test_length_is_read_as_minutes_and_seconds(typed: str, seconds: int) -> None:
    """Both ways of writing a length are read."""
    assert LengthField().clean(typed) == seconds


@pytest.mark.parametrize("typed", ["1:-5", "-1:90", "-3", "1:75", "0:00:01", "9" * 30, "1e3", "\0"])
def test_length_refuses_what_is_none(typed: str) -> None:
    """A sign, a third part or an endless number is refused with an example."""
    with pytest.raises(forms.ValidationError):
        LengthField().clean(typed)


@pytest.mark.django_db
@pytest.mark.parametrize("start", ["0001-01-01T00:00", "1999-12-31T20:00", "9999-12-31T23:59"])
def test_episode_refuses_a_year_its_times_cannot_be_reckoned_in(start: str) -> None:
    """Times before and after the show are reckoned from its start, so it needs room."""
    form = fill(starts_at=start)

    assert "Please check the year" in str(form.errors["starts_at"])


@pytest.mark.django_db
def test_episode_takes_a_usual_start() -> None:
    """An evening this century is fine."""
    assert fill().is_valid()
