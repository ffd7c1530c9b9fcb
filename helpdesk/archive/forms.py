"""Forms of the archive: files of captions, what is known of a show, corrections of segments."""

import re
from typing import Any

from django import forms
from django.core.files.base import File

from helpdesk.archive.models import TITLE_CHARS, Kind
from helpdesk.archive.naming import LARGEST_NUMBER
from helpdesk.core.fields import LINK_CHARS, NO_WEB_PAGE, WEB_SCHEMES

MOST_FILES = 20  # at once; the command takes any number
TIME = re.compile(
    r"(?:(\d{1,3}):)?(\d{1,4}):(\d{1,2})(?:[.,](\d{1,9}))?|(\d{1,9})(?:[.,](\d{1,9}))?"
)
NO_TIME = "Give a time of the recording such as 4:41 or 1:02:30."


class ManyFilesInput(forms.ClearableFileInput):
    """A control for several files."""

    allow_multiple_selected = True


class ManyFilesField(forms.FileField):
    """Several files, at least one and not more than a request takes."""

    widget = ManyFilesInput

    def clean(self, data: Any, initial: Any = None) -> list["File[bytes]"]:
        """Return the files. Empty ones pass: the reader says what is wrong with them."""
        files = data if isinstance(data, list | tuple) else [data]
        given = [file for file in files if file is not None]
        if not given:
            raise forms.ValidationError(self.error_messages["required"], code="required")
        if len(given) > MOST_FILES:
            words = f"Send {MOST_FILES} files at once at most. These are {len(given)}."
            raise forms.ValidationError(words, code="too_many")
        return given


class CaptionsForm(forms.Form):
    """Files to bring in, and the number of the episode where there is one file."""

    captions = ManyFilesField(
        label="Caption files",
        help_text="WebVTT or SubRip. The number of the episode is told by each file’s name.",
        widget=ManyFilesInput(attrs={"accept": ".vtt,.srt,text/vtt", "multiple": True}),
        error_messages={"required": "Choose at least one file."},
    )
    number = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=LARGEST_NUMBER,
        label="Number of the episode",
        help_text="Only for one file whose name does not tell it.",
        widget=forms.TextInput(attrs={"class": "short", "inputmode": "numeric"}),
    )

    def clean(self) -> dict[str, Any]:
        """Refuse one number for several files."""
        data = super().clean() or {}
        if data.get("number") and len(data.get("captions") or []) > 1:
            self.add_error("number", "A number fits one file. Leave it empty, or send one file.")
        return data


class FactsForm(forms.Form):
    """What is known of a show beside its captions."""

    title = forms.CharField(max_length=TITLE_CHARS)
    on_date = forms.DateField(
        required=False,
        label="Date",
        widget=forms.DateInput(attrs={"type": "date", "class": "short"}, format="%Y-%m-%d"),
    )
    link = forms.URLField(
        required=False,
        max_length=LINK_CHARS,
        assume_scheme="https",
        label="Link to the recording",
        help_text="Found moments open there at their second.",
    )

    def clean_link(self) -> str:
        """Return the link if it is a web page's."""
        link: str = self.cleaned_data["link"]
        if link and link.split(":", 1)[0].lower() not in WEB_SCHEMES:
            raise forms.ValidationError(NO_WEB_PAGE)
        return link


class SecondField(forms.CharField):
    """A time of the recording as people write it, in seconds."""

    def clean(self, value: Any) -> float | None:
        """Return the seconds, None when nothing was written."""
        text = str(super().clean(value) or "").strip()
        if not text:
            return None
        match = TIME.fullmatch(text)
        if match is None:
            raise forms.ValidationError(NO_TIME, code="no_time")
        hours, minutes, seconds, part, plain, plain_part = match.groups()
        whole = int(plain) if plain else int(hours or 0) * 3600 + int(minutes) * 60 + int(seconds)
        return whole + float(f"0.{part or plain_part or 0}")


class SegmentForm(forms.Form):
    """What a person says of a segment."""

    begins = SecondField(required=False, label="Begins at")
    kind = forms.ChoiceField(choices=Kind, label="Kind")
    title = forms.CharField(
        max_length=TITLE_CHARS, error_messages={"required": "A segment needs a title."}
    )
    case = forms.IntegerField(
        required=False, min_value=1, max_value=2**62, label="Number of the case"
    )


class StepForm(forms.Form):
    """One step of a correction: what to do, with which segment, at which second."""

    do = forms.ChoiceField(
        choices=[
            (word, word)
            for word in (
                "save",
                "earlier",
                "later",
                "here",
                "split",
                "merge",
                "kind",
                "right",
                "undo",
            )
        ]
    )
    version = forms.IntegerField(min_value=1, max_value=2**31 - 1)
    place = forms.IntegerField(required=False, min_value=1, max_value=1_000_000)
    second = SecondField(required=False)
