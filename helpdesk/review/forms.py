"""Forms of the queue and the case page."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from helpdesk.accounts.models import User
from helpdesk.answers.forms import TellOutcomeForm
from helpdesk.cases.models import Case, Channel, Process
from helpdesk.cases.services import FACT_FIELDS
from helpdesk.diagnosis.engine import ActionInfo
from helpdesk.review.selectors import MINE, NOBODY, QueueFilter

WORDS_LIMIT = 4000
MEASURES = ("layer_height_mm", "nozzle_mm", "nozzle_c", "bed_c", "speed_mm_s", "failed_at_mm")

TURN_CHOICES = [
    ("", "Ours and theirs"),
    ("ours", "Ours"),
    ("theirs", "The person’s"),
    ("answered", "Answered, outcome open"),
    ("closed", "Closed"),
]


class QueueFilterForm(forms.Form):
    """What narrows the queue; nothing is needed."""

    turn = forms.ChoiceField(label="Whose turn", choices=TURN_CHOICES, required=False)
    who = forms.ChoiceField(label="Who has it", required=False)
    process = forms.ChoiceField(required=False)
    channel = forms.ChoiceField(label="Came by", required=False)
    words = forms.CharField(required=False, max_length=200, widget=forms.SearchInput)
    after = forms.CharField(required=False, max_length=300, widget=forms.HiddenInput)

    def __init__(self, data: Mapping[str, Any], *, people: Sequence[User], user: User) -> None:
        """Offer the people who may have a case."""
        super().__init__(data, auto_id="f-%s")
        others = [(str(person.pk), person.short_name) for person in people if person != user]
        self._choose("who", [("", "Anybody"), (NOBODY, "Nobody yet"), (MINE, "You"), *others])
        self._choose("process", [("", "All"), *((v, label) for v, label in Process.choices if v)])
        self._choose("channel", [("", "Any channel"), *_capital(Channel.choices)])

    def _choose(self, name: str, choices: Sequence[tuple[str, str]]) -> None:
        field = self.fields[name]
        if isinstance(field, forms.ChoiceField):
            field.choices = list(choices)

    @property
    def wanted(self) -> QueueFilter:
        """Return the filter of a valid form."""
        data = self.cleaned_data
        return QueueFilter(**{name: data[name] for name in QueueFilter.__dataclass_fields__})


class FactsForm(forms.ModelForm):  # type: ignore[type-arg]
    """The facts of a case with the version they were read at.

    Hidden first values tell what this reviewer changed, so that a save against an older version
    takes back nobody else's change.
    """

    version = forms.IntegerField(widget=forms.HiddenInput)

    class Meta:
        model = Case
        fields = FACT_FIELDS
        labels = {
            "machine": "Printer",
            "material_maker": "Maker of the material",
            "layer_height_mm": "Layer height, mm",
            "nozzle_mm": "Nozzle, mm",
            "nozzle_c": "Nozzle, °C",
            "bed_c": "Plate, °C",
            "speed_mm_s": "Speed, mm/s",
            "failed_at_mm": "Failed at, mm",
            "tried": "Tried before",
        }
        widgets = {"tried": forms.Textarea(attrs={"rows": 2})}

    def __init__(self, data: Any = None, *, instance: Case) -> None:
        """Show the facts as they stand, with the version they are at."""
        first: dict[str, Any] = {"version": instance.version}
        for name in MEASURES:  # 210, not 210.0
            value = getattr(instance, name)
            first[name] = value if value is None else f"{value:g}"
        super().__init__(data, instance=instance, auto_id="facts-%s", initial=first)
        for name, field in self.fields.items():
            field.show_hidden_initial = name != "version"
            if isinstance(field, forms.FloatField):
                field.min_value = 0
                field.widget.attrs |= {"step": "any", "min": "0"}

    def clean(self) -> dict[str, Any]:
        """Refuse measures below nothing."""
        data = super().clean() or self.cleaned_data
        for name, value in list(data.items()):
            if isinstance(value, float) and value < 0:
                self.add_error(name, f"{self.fields[name].label} cannot be below 0.")
        return data

    @property
    def changes(self) -> dict[str, Any]:
        """Return what this reviewer changed, by field."""
        changed = set(self.changed_data) - {"version"}
        return {name: self.cleaned_data[name] for name in changed if name in self.cleaned_data}


class AskForm(forms.Form):
    """Questions ticked and own words."""

    ask = forms.MultipleChoiceField(required=False)
    words = forms.CharField(
        required=False,
        max_length=WORDS_LIMIT,
        label="Add it in your own words",
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(self, data: Any = None) -> None:
        """Take ids as they come; the service checks them against the knowledge."""
        super().__init__(data, auto_id="ask-%s")

    def clean_ask(self) -> list[str]:
        """Return the ticked findings."""
        return list(self.cleaned_data["ask"])


class OutcomeForm(TellOutcomeForm):
    """What the person told us elsewhere: whether it worked, which step did it, their words."""

    words = forms.CharField(
        required=False,
        max_length=WORDS_LIMIT,
        label="In their words",
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def __init__(self, data: Any = None, *, steps: Sequence[ActionInfo] = ()) -> None:
        """Offer the steps of what was sent, under ids of its own on a page of many forms."""
        super().__init__(data, steps=steps, auto_id="outcome-%s")
        self.fields["result"].label = "What do they say?"


class NoteForm(forms.Form):
    """A note between people of the desk."""

    body = forms.CharField(
        max_length=WORDS_LIMIT,
        label="Add a note",
        help_text="Only reviewers and the producer see this.",
        widget=forms.Textarea(attrs={"rows": 2, "aria-describedby": "note-body_helptext"}),
        error_messages={"required": "A note needs words."},
    )

    def __init__(self, data: Any = None) -> None:
        """Give the field its own ids on a page of many forms."""
        super().__init__(data, auto_id="note-%s")


def _capital(choices: Sequence[tuple[str, Any]]) -> list[tuple[str, str]]:
    """Return choices with their labels' first letter in capitals."""
    return [(value, str(label)[:1].upper() + str(label)[1:]) for value, label in choices]
