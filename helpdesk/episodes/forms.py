"""Forms of the episode pages."""

import datetime
import re
from typing import Any

from django import forms
from django.utils import timezone

from helpdesk.episodes.models import Episode, Segment, SegmentKind
from helpdesk.episodes.timing import count_words, spoken_seconds

LOCAL_MINUTE = "%Y-%m-%dT%H:%M"
LOCAL_SECOND = "%Y-%m-%dT%H:%M:%S"
LENGTH = re.compile(r"(?:(?P<minutes>\d{1,4}):(?=[0-5]?\d$))?(?P<seconds>\d{1,5})")
LONGEST_S = 6 * 3600
YEARS = range(2000, 2101)  # a slip of the keyboard; the sheet's times need room on both sides


class LengthField(forms.CharField):
    """A length typed as seconds ("90") or minutes and seconds ("1:30"); gives seconds."""

    def __init__(self, **kwargs: Any) -> None:
        """Set a short input that phones show digits for."""
        kwargs.setdefault("widget", forms.TextInput(attrs={"class": "short", "inputmode": "text"}))
        super().__init__(**kwargs)

    def prepare_value(self, value: Any) -> Any:
        """Show stored seconds as m:ss."""
        if isinstance(value, int):
            return f"{value // 60}:{value % 60:02}"
        return value

    def clean(self, value: Any) -> int:
        """Return the seconds, or refuse with an example."""
        text = super().clean(value) or "0"
        match = LENGTH.fullmatch(text)
        whole = 60 * int(match["minutes"] or 0) + int(match["seconds"]) if match else -1
        if not 0 <= whole <= LONGEST_S:
            raise forms.ValidationError("Give a length such as 1:30, or seconds such as 90.")
        return whole


class EpisodeForm(forms.ModelForm):  # type: ignore[type-arg]
    """A show's title, start, slot and rate of speech."""

    slot_s = LengthField(
        label="Length of the slot", help_text="Minutes and seconds, such as 20:00."
    )
    link = forms.URLField(
        label="Link to the recording", required=False, assume_scheme="https", max_length=500
    )
    starts_at = forms.DateTimeField(
        label="Starts",
        input_formats=[LOCAL_MINUTE, LOCAL_SECOND],
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format=LOCAL_MINUTE),
    )
    link = forms.URLField(
        required=False, label="Link to the recording", assume_scheme="https", max_length=500
    )

    class Meta:
        model = Episode
        fields = ("number", "title", "starts_at", "slot_s", "words_per_minute", "link")
        labels = {"words_per_minute": "Presenter’s rate, words a minute"}
        help_texts = {"words_per_minute": "150 is slow, 170 to 190 usual, 210 fast."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Keep the number of an episode that exists."""
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            del self.fields["number"]

    def clean_starts_at(self) -> datetime.datetime:
        """Refuse a year no show of this desk can be in."""
        start: datetime.datetime = self.cleaned_data["starts_at"]
        if start.year not in YEARS:
            raise forms.ValidationError(f"Please check the year {start.year}.")
        return start


class SegmentForm(forms.ModelForm):  # type: ignore[type-arg]
    """What a part says and how long it takes."""

    fixed_s = LengthField(
        label="Fixed time", required=False, help_text="On top of the words: photos, music, a clip."
    )
    hit_at = forms.TimeField(
        label="Must start at",
        required=False,
        input_formats=["%H:%M:%S", "%H:%M"],
        help_text="Only when something else depends on it.",
        widget=forms.TimeInput(attrs={"type": "time", "step": "1", "class": "short"}),
    )

    class Meta:
        model = Segment
        fields = ("slug", "presenter", "script", "talking_points", "fixed_s", "hit_at")
        labels = {
            "slug": "Slug",
            "presenter": "Who speaks",
            "script": "Words to be spoken",
            "talking_points": "Talking points",
        }
        help_texts = {
            "slug": "A short working title, once an episode.",
            "script": "Their number at the presenter’s rate gives the length.",
        }
        widgets = {
            "script": forms.Textarea(attrs={"rows": 8}),
            "talking_points": forms.Textarea(attrs={"rows": 5}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Show the hit time as a clock time of the show's evening."""
        super().__init__(*args, **kwargs)
        if self.instance.pk and self.instance.hit_at:
            self.initial["hit_at"] = timezone.localtime(self.instance.hit_at).time()

    def clean_hit_at(self) -> datetime.datetime | None:
        """Return the moment on the show's evening; past midnight it is the next day."""
        clock: datetime.time | None = self.cleaned_data["hit_at"]
        if clock is None:
            return None
        start = timezone.localtime(self.instance.episode.starts_at)
        moment = datetime.datetime.combine(start.date(), clock, tzinfo=start.tzinfo)
        return moment if moment >= start else moment + datetime.timedelta(days=1)

    def clean_slug(self) -> str:
        """Refuse a slug the episode has already."""
        slug: str = self.cleaned_data["slug"].strip()
        others = self.instance.episode.segments.exclude(pk=self.instance.pk)
        if others.filter(slug=slug).exists():
            raise forms.ValidationError("Another part of this episode has that slug.")
        return slug

    @property
    def spoken_s(self) -> float:
        """Return how long the script takes at the presenter's rate."""
        words = count_words(self["script"].value() or "")
        return spoken_seconds(words, self.instance.episode.words_per_minute)


class NewSegmentForm(forms.Form):
    """A further part that is no case."""

    kind = forms.ChoiceField(
        choices=[c for c in SegmentKind.choices if c[0] != SegmentKind.CASE], label="Part"
    )
    slug = forms.CharField(max_length=60, label="Slug")
    fixed_s = LengthField(label="Fixed time", required=False, initial="0:30")


class OutForm(forms.Form):
    """The last thing said about an episode: where its recording is."""

    link = forms.URLField(
        required=False, label="Link to the recording", assume_scheme="https", max_length=500
    )


def local_start_default() -> datetime.datetime:
    """Return next Thursday evening, when the show usually starts."""
    today = timezone.localtime().replace(hour=20, minute=0, second=0, microsecond=0)
    return today + datetime.timedelta(days=(3 - today.weekday()) % 7 or 7)
