"""What part of the season is looked at, and by what."""

import datetime

from django import forms

from helpdesk.core import clock
from helpdesk.season.subjects import SUBJECTS

USUAL_WEEKS = 26
FIRST_YEAR, LAST_YEAR = 1970, 2999  # beyond them a date cannot be counted from any more


class SeasonForm(forms.Form):
    """A period and the subject the table goes by."""

    by = forms.ChoiceField(
        label="Look by", choices=[(s.key, s.label) for s in SUBJECTS], required=False
    )
    since = forms.DateField(
        label="From",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    until = forms.DateField(
        label="To",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )

    def clean_since(self) -> datetime.date | None:
        """Return the first day, refusing one nobody means."""
        return _near(self.cleaned_data["since"])

    def clean_until(self) -> datetime.date | None:
        """Return the last day, refusing one nobody means."""
        return _near(self.cleaned_data["until"])

    def clean(self) -> dict[str, object]:
        """Fill what was left empty; a period that ends before it begins is refused."""
        found: dict[str, object] = super().clean() or {}
        until = found.get("until") or clock.today()
        if not isinstance(until, datetime.date):
            until = clock.today()
        since = found.get("since") or until - datetime.timedelta(weeks=USUAL_WEEKS)
        if isinstance(since, datetime.date) and since > until:
            self.add_error("until", "The period ends before it begins.")
        return found | {"since": since, "until": until, "by": found.get("by") or SUBJECTS[0].key}


def _near(day: datetime.date | None) -> datetime.date | None:
    if day and not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise forms.ValidationError(f"Give a year from {FIRST_YEAR} to {LAST_YEAR}.")
    return day
