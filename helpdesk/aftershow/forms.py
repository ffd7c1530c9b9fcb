"""Forms of what comes after a show."""

import re
from typing import Any

from django import forms

from helpdesk.aftershow.models import (
    MOST_CHARS,
    NAME_CHARS,
    NOTE_CHARS,
    TARGET_CHARS,
    RollDraft,
    Supporter,
)
from helpdesk.aftershow.roll import COLUMNS, LEAVE_OUT
from helpdesk.aftershow.selectors import AfterShow
from helpdesk.aftershow.services import PartTime
from helpdesk.core.fields import line_field, text_field
from helpdesk.core.templatetags.desk import length_s
from helpdesk.episodes.models import Episode

LOCAL_SECOND = "%Y-%m-%dT%H:%M:%S"
LOCAL_FORMATS = [LOCAL_SECOND, "%Y-%m-%dT%H:%M"]
RECORDING_TIME = re.compile(
    r"(?:(?:(?P<hours>\d{1,2}):(?=\d{2}:))?(?P<minutes>\d{1,4}):(?=[0-5]\d$))?(?P<seconds>\d{1,5})"
)
LONGEST_S = 24 * 3600
MEANINGS = [
    (LEAVE_OUT, "Nothing of these"),
    *((name, label) for name, (label, _) in COLUMNS.items()),
]
NO_TIME = "Give a time of the recording such as 4:41 or 1:04:41."


class RecordingTimeField(forms.CharField):
    """A second of the recording typed as 4:41 or 1:04:41; None when left empty."""

    def __init__(self, **kwargs: Any) -> None:
        """Set a short input."""
        widget = forms.TextInput(attrs={"class": "short", "autocomplete": "off"})
        super().__init__(required=False, widget=widget, **kwargs)

    def prepare_value(self, value: Any) -> Any:
        """Show seconds as m:ss."""
        return length_s(int(value)) if isinstance(value, int | float) else value

    def clean(self, value: Any) -> float | None:
        """Return the second, or refuse with an example."""
        text = str(super().clean(value) or "").strip()
        if not text:
            return None
        match = RECORDING_TIME.fullmatch(text)
        if match is None:
            raise forms.ValidationError(NO_TIME)
        second = int(match["seconds"]) + 60 * int(match["minutes"] or 0)
        second += 3600 * int(match["hours"] or 0)
        if second > LONGEST_S:
            raise forms.ValidationError("No recording of a show is longer than a day.")
        return float(second)


class AirForm(forms.ModelForm):  # type: ignore[type-arg]
    """When a show went on and off air, and where its recording begins."""

    on_air_at = forms.DateTimeField(
        label="Went on air",
        required=False,
        input_formats=LOCAL_FORMATS,
        widget=forms.DateTimeInput(
            attrs={"type": "datetime-local", "step": "1"}, format=LOCAL_SECOND
        ),
    )
    off_air_at = forms.DateTimeField(
        label="Went off air",
        required=False,
        input_formats=LOCAL_FORMATS,
        widget=forms.DateTimeInput(
            attrs={"type": "datetime-local", "step": "1"}, format=LOCAL_SECOND
        ),
    )
    recording_offset_s = forms.IntegerField(
        label="Seconds of the recording before the show began",
        min_value=-LONGEST_S,
        max_value=LONGEST_S,
        help_text="0 when both began together; below 0 when the recording began later.",
        widget=forms.NumberInput(attrs={"class": "short"}),
    )

    class Meta:
        model = Episode
        fields = ("on_air_at", "off_air_at", "recording_offset_s")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Propose the planned start where nobody noted the real one."""
        super().__init__(*args, **kwargs)
        if self.instance.on_air_at is None:
            self.initial["on_air_at"] = self.instance.starts_at

    def _post_clean(self) -> None:
        """Leave the episode as it is: the service writes, and says what does not fit."""


class PartTimesForm(forms.Form):
    """When each part started, in the recording, and which were left out."""

    def __init__(self, *args: Any, after: AfterShow, **kwargs: Any) -> None:
        """Make a time and a tick for each part, in the order of the show."""
        super().__init__(*args, **kwargs)
        self.rows: list[tuple[int, str, str]] = []
        noted = {part.segment.pk: part for part in after.parts}
        segments = [part.segment for part in after.parts] + list(after.left_out)
        for segment in segments:
            part = noted.get(segment.pk)
            is_noted = part is not None and part.is_noted
            at = RecordingTimeField(
                label=f"{segment.slug} started at",
                initial=part.at_s if part and is_noted else None,
            )
            out = forms.BooleanField(label="Left out", required=False, initial=segment.was_left_out)
            names = f"at_{segment.pk}", f"out_{segment.pk}"
            self.fields[names[0]], self.fields[names[1]] = at, out
            self.rows.append((segment.pk, *names))

    @property
    def fields_by_part(self) -> dict[int, tuple[forms.BoundField, forms.BoundField]]:
        """Return the fields of each part by the number of its segment."""
        return {pk: (self[at], self[out]) for pk, at, out in self.rows}

    @property
    def times(self) -> list[PartTime]:
        """Return what was typed."""
        return [
            PartTime(pk, self.cleaned_data[at], self.cleaned_data[out]) for pk, at, out in self.rows
        ]


class TextForm(forms.Form):
    """A description edited by hand, with the limit of where it goes."""

    words = text_field("The text", "the text", MOST_CHARS, 24, required=False)
    limit_chars = forms.IntegerField(
        label="Most characters",
        min_value=0,
        max_value=MOST_CHARS,
        help_text="0 where there is no limit.",
        widget=forms.NumberInput(attrs={"class": "short"}),
    )
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)


class TargetForm(forms.Form):
    """Another place the text goes to."""

    target = line_field("Another place the text goes to", "the place", TARGET_CHARS)
    limit_chars = forms.IntegerField(
        label="Most characters",
        min_value=0,
        max_value=MOST_CHARS,
        initial=0,
        widget=forms.NumberInput(attrs={"class": "short"}),
    )

    def clean_target(self) -> str:
        """Refuse an empty name."""
        name: str = self.cleaned_data["target"]
        if not name:
            raise forms.ValidationError("Give the place a name.")
        return name


class SupporterForm(forms.ModelForm):  # type: ignore[type-arg]
    """A supporter as the roll knows them."""

    name = line_field("Name as it should read", "the name", NAME_CHARS)
    said_as = line_field("How it is said", "how it is said", NAME_CHARS)
    since = line_field("Supports since", "since when", 40)
    note = line_field("Note", "the note", NOTE_CHARS)
    may_name = forms.BooleanField(label="Agrees to be named on the show", required=False)

    class Meta:
        model = Supporter
        fields = ("name", "said_as", "may_name", "since", "note")

    def clean_name(self) -> str:
        """Refuse an empty name."""
        name: str = self.cleaned_data["name"]
        if not name:
            raise forms.ValidationError("Give the name as it should read.")
        return name

    def _post_clean(self) -> None:
        """Leave the supporter as they are: the service writes."""


class ListForm(forms.Form):
    """The file of a list of supporters."""

    table = forms.FileField(
        label="The list",
        help_text="A text file: CSV or tab-separated, in UTF-8 if you can choose.",
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt,text/csv"}),
        error_messages={
            "required": "Please choose a file.",
            "empty": "The file is empty. Please choose the list again.",
        },
    )


class ColumnsForm(forms.Form):
    """What each column of a list is."""

    def __init__(self, *args: Any, draft: RollDraft, **kwargs: Any) -> None:
        """Make a field for each column."""
        super().__init__(*args, **kwargs)
        self.names = [f"column_{place}" for place in range(len(draft.header))]
        for name, header, meaning in zip(self.names, draft.header, draft.columns, strict=True):
            self.fields[name] = forms.ChoiceField(
                label=header, choices=MEANINGS, initial=meaning, required=False
            )

    @property
    def columns(self) -> list[str]:
        """Return what was chosen for each column, in order."""
        return [self.cleaned_data[name] for name in self.names]
