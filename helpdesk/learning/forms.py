"""Forms of the learning pages."""

from collections.abc import Mapping, Sequence
from typing import Any, cast

from django import forms

from helpdesk.diagnosis.models import KnowledgeRevision
from helpdesk.learning.selectors import EXPERT

REASON_LIMIT = 500  # characters


class LearnForm(forms.Form):
    """A note that goes with a new revision."""

    note = forms.CharField(
        label="Note",
        required=False,
        max_length=REASON_LIMIT,
        help_text="What should be remembered of this revision; it may stay empty.",
        widget=forms.TextInput(attrs={"aria-describedby": "id_note_helptext"}),
    )


class SwitchForm(forms.Form):
    """Why other numbers are put in force."""

    why = forms.CharField(
        label="Why",
        max_length=REASON_LIMIT,
        help_text="It stands in the history, for whoever asks later.",
        widget=forms.Textarea(attrs={"rows": 2, "aria-describedby": "id_why_helptext"}),
        error_messages={"required": "Please say why; somebody will ask."},
    )


class CompareForm(forms.Form):
    """Which two sets of numbers are held against each other."""

    before = forms.TypedChoiceField(label="Before", coerce=int)
    after = forms.TypedChoiceField(label="After", coerce=int)

    def __init__(
        self, data: Mapping[str, Any] | None, *, revisions: Sequence[KnowledgeRevision]
    ) -> None:
        """Offer the expert's numbers and every revision."""
        super().__init__(data)
        choices = [(EXPERT, "The expert’s numbers")]
        choices += [(revision.number, str(revision)) for revision in revisions]
        for name in ("before", "after"):
            cast(forms.TypedChoiceField, self.fields[name]).choices = choices
