"""Forms of the episode pages."""

import datetime
import re
from collections.abc import Sequence
from typing import Any, cast

from django import forms
from django.core.validators import URLValidator
from django.utils import timezone

from helpdesk.core.http import as_int
from helpdesk.episodes.lengths import POINT_FACTOR
from helpdesk.episodes.models import PICTURE_S, Episode, PartKind, Segment, SegmentKind
from helpdesk.episodes.selectors import list_part_kinds
from helpdesk.episodes.services import PART_FIELDS, PictureChoice
from helpdesk.photos.models import Photo

LOCAL_MINUTE = "%Y-%m-%dT%H:%M"
LOCAL_SECOND = "%Y-%m-%dT%H:%M:%S"
LENGTH = re.compile(r"(?:(?P<minutes>\d{1,4}):(?=[0-5]?\d$))?(?P<seconds>\d{1,5})")
USUAL_FIXED_S = 30
MOST_LINKS = 20
MOST_PLACES = 99
LONGEST_PICTURE_S = 600
OWN_PREFIX = "own-"
check_address = URLValidator(schemes=["http", "https"])
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
        labels = {"words_per_minute": "Words a minute"}
        help_texts = {
            "words_per_minute": "For presenters who were not measured on a show yet: 175 is usual "
            "when talking freely, 160 to 180 when reading."
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Keep the number of an episode that exists."""
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            del self.fields["number"]
            self.fields["version"] = version_field(self.instance.details_version)

    def clean_starts_at(self) -> datetime.datetime:
        """Refuse a year no show of this desk can be in."""
        start: datetime.datetime = self.cleaned_data["starts_at"]
        if start.year not in YEARS:
            raise forms.ValidationError(f"Please check the year {start.year}.")
        return start


class SegmentForm(forms.ModelForm):  # type: ignore[type-arg]
    """What a part says and how long it takes."""

    fixed_s = LengthField(
        label="Fixed time",
        required=False,
        help_text="On top of words and pictures: music, a clip, coming to the table.",
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
        fields = PART_FIELDS
        labels = {
            "slug": "Slug",
            "presenter": "Who speaks",
            "script": "Words to be spoken",
            "talking_points": "Talking points",
            "links": "Links",
            "audience_question": "A question to the audience",
        }
        help_texts = {
            "slug": "A short working title, once an episode.",
            "presenter": "Their own rate is used once a show measured it.",
            "script": "Their number at the presenter’s rate gives the length.",
            "talking_points": "One a line. Without a script each word stands for "
            f"{POINT_FACTOR:g} spoken ones.",
            "links": "One address a line, to be shown or posted while the part runs.",
            "audience_question": "What viewers may answer while the part runs.",
        }
        widgets = {
            "presenter": forms.TextInput(attrs={"list": "presenters", "autocomplete": "off"}),
            "script": forms.Textarea(attrs={"rows": 7}),
            "talking_points": forms.Textarea(attrs={"rows": 8}),
            "links": forms.Textarea(attrs={"rows": 2, "inputmode": "url", "dir": "ltr"}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Show the hit time as a clock time of the show's evening."""
        super().__init__(*args, **kwargs)
        if self.instance.pk and self.instance.hit_at:
            self.initial["hit_at"] = timezone.localtime(self.instance.hit_at).time()
        self.fields["version"] = version_field(self.instance.version)

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

    def clean_links(self) -> str:
        """Refuse a line that is no web address."""
        lines = [line.strip() for line in self.cleaned_data["links"].splitlines() if line.strip()]
        if len(lines) > MOST_LINKS:
            raise forms.ValidationError(f"Give at most {MOST_LINKS} links.")
        for line in lines:
            try:
                check_address(line)
            except forms.ValidationError as error:
                raise forms.ValidationError(f"“{line}” is no web address.") from error
        return "\n".join(lines)


class PicturesForm(forms.Form):
    """Which photos a part shows, in which order and for how long."""

    def __init__(self, *args: Any, photos: Sequence[Photo], segment: Segment, **kwargs: Any):
        """Make a place and seconds for each photo that may be shown."""
        super().__init__(*args, **kwargs)
        self.photos = photos
        shown = {picture.photo_id: picture for picture in segment.pictures.all()}
        for photo in photos:
            picture = shown.get(photo.pk)
            self.fields[f"place_{photo.pk}"] = forms.IntegerField(
                label=f"Place of photo {photo.pk}",
                required=False,
                min_value=1,
                max_value=MOST_PLACES,
                initial=picture.position if picture else None,
                widget=forms.NumberInput(attrs={"class": "tiny"}),
            )
            self.fields[f"seconds_{photo.pk}"] = forms.IntegerField(
                label=f"Seconds of photo {photo.pk}",
                required=False,
                min_value=1,
                max_value=LONGEST_PICTURE_S,
                initial=picture.seconds if picture else PICTURE_S,
                widget=forms.NumberInput(attrs={"class": "tiny"}),
            )

    @property
    def rows(self) -> list[tuple[Photo, forms.BoundField, forms.BoundField]]:
        """Return each photo with its two fields, those shown first in their order."""
        rows = [(p, self[f"place_{p.pk}"], self[f"seconds_{p.pk}"]) for p in self.photos]
        return sorted(rows, key=lambda row: as_int(row[1].value(), MOST_PLACES + 1) or 0)

    @property
    def choices(self) -> list[PictureChoice]:
        """Return the photos that have a place, in the order of their places."""
        data = self.cleaned_data
        placed = [p for p in self.photos if data.get(f"place_{p.pk}")]
        placed.sort(key=lambda photo: data[f"place_{photo.pk}"])
        return [PictureChoice(p.pk, data.get(f"seconds_{p.pk}") or PICTURE_S) for p in placed]


class NewSegmentForm(forms.Form):
    """A further part that is no case."""

    kind = forms.ChoiceField(label="Part")
    slug = forms.CharField(max_length=60, label="Slug")
    fixed_s = LengthField(
        label="Fixed time", required=False, help_text="Empty: as usual for its kind."
    )
    version = forms.IntegerField(
        required=False, widget=forms.HiddenInput(attrs={"data-sheet-version": True})
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Offer the built-in kinds and the producer's own."""
        super().__init__(*args, **kwargs)
        not_alone = (SegmentKind.CASE, SegmentKind.OWN)
        built_in = [choice for choice in SegmentKind.choices if choice[0] not in not_alone]
        own = [(f"{OWN_PREFIX}{kind.pk}", kind.name) for kind in list_part_kinds()]
        field = cast(forms.ChoiceField, self.fields["kind"])
        field.choices = [*built_in, *own]

    @property
    def values(self) -> dict[str, Any]:
        """Return what add_segment takes."""
        data = self.cleaned_data
        kind, own = data["kind"], None
        if kind.startswith(OWN_PREFIX):
            own = list_part_kinds().get(pk=int(kind.removeprefix(OWN_PREFIX)))
            kind = SegmentKind.OWN
        usual_s = own.usual_s if own else USUAL_FIXED_S
        fixed_s = data["fixed_s"] if self.data.get("fixed_s") else usual_s
        return {
            "kind": kind,
            "own_kind": own,
            "slug": data["slug"],
            "fixed_s": fixed_s,
            "version": data["version"],
        }


class PartKindForm(forms.ModelForm):  # type: ignore[type-arg]
    """A kind of part of the producer's own."""

    usual_s = LengthField(label="Usual fixed time", initial=USUAL_FIXED_S)

    class Meta:
        model = PartKind
        fields = ("name", "usual_s", "stands")
        labels = {"name": "Name", "stands": "Where it usually stands"}

    def clean_name(self) -> str:
        """Refuse a name that another kind has, however it is written."""
        name = " ".join(str(self.cleaned_data["name"]).split())
        built_in = {str(label).casefold() for label in SegmentKind.labels}
        others = list_part_kinds().exclude(pk=self.instance.pk)
        taken = built_in | {kind.name.casefold() for kind in others}
        if name.casefold() in taken:
            raise forms.ValidationError(f"There is a kind called “{name}” already.")
        return name


class TeaseForm(forms.Form):
    """Hooks as they are to be said."""

    words = forms.CharField(
        label="Hooks",
        widget=forms.Textarea(attrs={"rows": 12}),
        max_length=2000,
        help_text="Change them as you like; empty lines part them.",
    )
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)


class OutForm(forms.Form):
    """The last thing said about an episode: where its recording is."""

    link = forms.URLField(
        required=False, label="Link to the recording", assume_scheme="https", max_length=500
    )


def version_field(version: int) -> forms.IntegerField:
    """Return a hidden field that carries the version a form was filled in against."""
    return forms.IntegerField(initial=version, widget=forms.HiddenInput)


def local_start_default() -> datetime.datetime:
    """Return next Thursday evening, when the show usually starts."""
    today = timezone.localtime().replace(hour=20, minute=0, second=0, microsecond=0)
    return today + datetime.timedelta(days=(3 - today.weekday()) % 7 or 7)
