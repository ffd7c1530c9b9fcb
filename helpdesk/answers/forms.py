"""Forms of the answer panel and the library."""

import re
from collections.abc import Sequence
from typing import Any, cast

from django import forms
from django.forms.boundfield import BoundField

from helpdesk.answers.cautions import Caution, is_mandatory
from helpdesk.answers.pieces import LONGEST_LIMIT, SHORTEST_LIMIT
from helpdesk.answers.publishing import Publication, PublishedPhoto
from helpdesk.answers.selectors import LibraryFilter
from helpdesk.answers.services import BODY_LIMIT, DraftText
from helpdesk.cases.models import NOT_KNOWN, SOMETHING_ELSE, Channel, OutcomeResult
from helpdesk.cases.outcomes import HELPED
from helpdesk.diagnosis.engine import ActionInfo
from helpdesk.photos.models import Photo

OUTCOMES = [
    (OutcomeResult.WORKED.value, "It worked"),
    (OutcomeResult.PARTLY.value, "It helped a little"),
    (OutcomeResult.DID_NOT_WORK.value, "It did not work"),
    (OutcomeResult.NOT_TRIED.value, "I have not tried it"),
    (OutcomeResult.GAVE_UP.value, "I have given it up"),
]
OTHER_STEPS = [(SOMETHING_ELSE, "Something else"), (NOT_KNOWN, "I do not know")]
CAUTION_LIMIT = 2000  # characters
LONGEST_FOLLOW_UP_DAYS = 120
_NOT_PLAIN = re.compile(r"[^a-z0-9-]")


def field_name(kind: str, caution: Caution) -> str:
    """Return the name of a caution's field; it follows the caution, whatever its place."""
    return f"{kind}_{_NOT_PLAIN.sub('-', caution.id)}"


class CautionRow:
    """The fields of one caution beside what is known of it."""

    def __init__(self, form: "DraftForm", caution: Caution) -> None:
        """Tie a caution to its two fields."""
        self.caution = caution
        self.wording: BoundField = form[field_name("wording", caution)]
        name = field_name("reason", caution)
        self.reason: BoundField | None = form[name] if name in form.fields else None


class DraftForm(forms.Form):
    """The draft: its text, each caution in a field of its own, and how it is sent."""

    answer = forms.IntegerField(min_value=1, widget=forms.HiddenInput)
    version = forms.IntegerField(min_value=1, widget=forms.HiddenInput)
    body = forms.CharField(
        label="Draft",
        max_length=BODY_LIMIT,
        strip=False,
        required=False,
        help_text="Made from the verdict and the plan. Change anything; "
        "the cautions have places of their own.",
        widget=forms.Textarea(attrs={"rows": 16}),
    )
    follow_up_days = forms.IntegerField(
        label="Ask how it went after this many days",
        min_value=0,
        max_value=LONGEST_FOLLOW_UP_DAYS,
        required=False,
        help_text="0 means we do not ask.",
    )
    length_limit = forms.IntegerField(
        label="Longest message of the channel, in characters",
        min_value=SHORTEST_LIMIT,
        max_value=LONGEST_LIMIT,
        required=False,
    )

    def __init__(
        self, *args: Any, cautions: Sequence[Caution], raised: frozenset[str], **kwargs: Any
    ) -> None:
        """Add the fields of the cautions."""
        kwargs.setdefault("auto_id", "answer-%s")
        super().__init__(*args, **kwargs)
        self.cautions = cautions
        for number, caution in enumerate(cautions, start=1):
            self.fields[field_name("wording", caution)] = forms.CharField(
                label=_name_caution(caution, number),
                max_length=CAUTION_LIMIT,
                required=False,
                initial=caution.wording or caution.text,
                widget=forms.Textarea(attrs={"rows": 3}),
            )
            if not is_mandatory(caution, raised):
                self.fields[field_name("reason", caution)] = forms.CharField(
                    label="Leave it out, because",
                    max_length=300,
                    required=False,
                    initial=caution.left_out,
                    help_text="Empty means it is sent. The reason is kept in the record.",
                )

    @property
    def caution_rows(self) -> list[CautionRow]:
        """Return the cautions with their fields, dangers first."""
        return [CautionRow(self, caution) for caution in self.cautions]

    @property
    def text(self) -> DraftText:
        """Return what was written, valid or not, so that nothing typed is lost."""
        is_valid = self.is_valid()
        read = self.cleaned_data if is_valid else self.data
        words: dict[str, dict[str, str]] = {"wording": {}, "reason": {}}
        for caution in self.cautions:
            for kind, found in words.items():
                # Only what was in the form: a caution added since then keeps its words.
                if field_name(kind, caution) in self.data:
                    found[caution.id] = read[field_name(kind, caution)]
        return DraftText(
            body=read.get("body", ""),
            wordings=words["wording"],
            reasons=words["reason"],
            length_limit=self.cleaned_data["length_limit"] if is_valid else None,
        )


class SentElsewhereForm(forms.Form):
    """The reviewer's word that the answer was passed on."""

    answer = forms.IntegerField(min_value=1, widget=forms.HiddenInput)
    version = forms.IntegerField(min_value=1, widget=forms.HiddenInput)
    via = forms.ChoiceField(
        label="Sent by", choices=[c for c in Channel.choices if c[0] != Channel.MAIL]
    )
    follow_up_days = forms.IntegerField(
        min_value=0, max_value=LONGEST_FOLLOW_UP_DAYS, required=False, widget=forms.HiddenInput
    )


class PublishForm(forms.Form):
    """The public version of an answer."""

    title = forms.CharField(
        label="Title, as a question somebody might ask", max_length=120, strip=True
    )
    body = forms.CharField(
        label="Text, without names",
        max_length=BODY_LIMIT,
        widget=forms.Textarea(attrs={"rows": 12}),
        help_text="Cautions about danger are shown above it in the desk’s own words.",
    )
    has_looked_for_names = forms.BooleanField(
        label="I have looked for names, addresses and anything that tells who it is.",
        required=False,
    )
    words_are_no_names = forms.BooleanField(
        label="The words found are not this person’s name or address.", required=False
    )
    has_looked_at_photos = forms.BooleanField(
        label="I have looked at each photo shown for faces, addresses and screens.",
        required=False,
    )

    def __init__(self, *args: Any, photos: Sequence[Photo] = (), **kwargs: Any) -> None:
        """Add a tick and a description for each photo that may be shown."""
        kwargs.setdefault("auto_id", "publish-%s")
        super().__init__(*args, **kwargs)
        self.photos = photos
        for number, photo in enumerate(photos, start=1):
            self.fields[f"show_{photo.pk}"] = forms.BooleanField(
                label=f"Show photo {number}", required=False
            )
            self.fields[f"alt_{photo.pk}"] = forms.CharField(
                label="What it shows", max_length=300, required=False, initial=photo.alt_text
            )
        if not photos:
            del self.fields["has_looked_at_photos"]

    @property
    def photo_rows(self) -> list[tuple[Photo, BoundField, BoundField]]:
        """Return each photo with its two fields."""
        return [(p, self[f"show_{p.pk}"], self[f"alt_{p.pk}"]) for p in self.photos]

    @property
    def publication(self) -> Publication:
        """Return what is to be published; the form must be valid."""
        data = self.cleaned_data
        return Publication(
            title=data["title"],
            body=data["body"],
            photos=[
                PublishedPhoto(p.pk, data[f"alt_{p.pk}"])
                for p in self.photos
                if data[f"show_{p.pk}"]
            ],
            has_looked_for_names=data["has_looked_for_names"],
            has_looked_at_photos=data.get("has_looked_at_photos", False),
            words_are_no_names=data["words_are_no_names"],
        )


class LibraryForm(forms.Form):
    """What a visitor looks for in the library."""

    words = forms.CharField(
        label="Describe it in your own words",
        max_length=200,
        required=False,
        widget=forms.TextInput(attrs={"type": "search"}),
    )
    material = forms.CharField(label="Material", max_length=40, required=False)
    outcome = forms.ChoiceField(
        label="How it went",
        choices=[("", "Any outcome"), *OutcomeResult.choices],
        required=False,
    )

    def __init__(self, *args: Any, materials: Sequence[str], **kwargs: Any) -> None:
        """Offer the materials that occur."""
        kwargs.setdefault("auto_id", "library-%s")
        super().__init__(*args, **kwargs)
        choices = [("", "Any"), *((m, m) for m in materials)]
        self.fields["material"].widget = forms.Select(choices=choices)

    @property
    def wanted(self) -> LibraryFilter:
        """Return the filter; what was not understood does not filter."""
        self.is_valid()
        read = self.cleaned_data if self.is_bound else {}
        return LibraryFilter(
            words=read.get("words", ""),
            material=read.get("material", ""),
            outcome=read.get("outcome", ""),
        )


class TellOutcomeForm(forms.Form):
    """Whether what was advised worked and which of its steps did it."""

    result = forms.ChoiceField(
        label="Did it work?",
        choices=OUTCOMES,
        widget=forms.RadioSelect,
        error_messages={"required": "Please choose one of these."},
    )
    remedy = forms.ChoiceField(
        label="Which step did it?",
        required=False,
        widget=forms.RadioSelect,
        error_messages={"invalid_choice": "Please choose one of the steps, or none."},
    )

    def __init__(self, *args: Any, steps: Sequence[ActionInfo] = (), **kwargs: Any) -> None:
        """Offer the steps of what was sent."""
        super().__init__(*args, **kwargs)
        remedy = cast(forms.ChoiceField, self.fields["remedy"])
        remedy.choices = [*((step.id, step.name) for step in steps), *OTHER_STEPS]

    def clean(self) -> dict[str, Any]:
        """Keep a step only with an outcome it can have brought about."""
        data = super().clean() or self.cleaned_data
        if data.get("result") not in HELPED:
            data["remedy"] = ""
            self.errors.pop("remedy", None)
        return data


def _name_caution(caution: Caution, number: int) -> str:
    """Return what the field of a caution is called."""
    place = "top" if caution.is_danger else "end"
    named = f": {caution.title}" if caution.is_danger and caution.title else f", no. {number}"
    return f"Caution at the {place}{named}"
