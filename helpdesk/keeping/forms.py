"""Forms about consent and erasure."""

from typing import Any

from django import forms

from helpdesk.cases.models import Case, CreditKind
from helpdesk.cases.services import Consent, Quote

QUOTE_CHARS = 5_000
WHY_ERASED = [
    ("asked in a letter", "They asked in a letter"),
    ("asked on another channel", "They asked on another channel"),
    ("asked in person", "They asked in person"),
    ("a guardian asked", "A guardian asked"),
    ("sent by mistake", "It was sent by mistake"),
]


class ToldConsentForm(forms.Form):
    """What somebody told the desk that they allow; begins with what is allowed now."""

    may_publish_answer = forms.BooleanField(
        label="The answer may be published, without their name", required=False
    )
    may_show_photos = forms.BooleanField(
        label="The photos may be shown on the show and beside the answer", required=False
    )
    credit_kind = forms.ChoiceField(label="How they are named", choices=CreditKind.choices)
    credit_as = forms.CharField(label="Named as", max_length=80, required=False)
    is_under_16 = forms.BooleanField(label="They are under 16", required=False)
    guardian_agreed = forms.BooleanField(
        label="A parent or guardian agrees to this", required=False
    )
    given_by = forms.CharField(
        label="Who said it",
        max_length=80,
        help_text="The person, the owner of the print, or their guardian.",
        error_messages={"required": "Please say who said it."},
    )
    where = forms.CharField(
        label="Where",
        max_length=80,
        help_text="The channel and the day, such as: chat server, 25 November.",
        error_messages={"required": "Please say where it was said."},
    )
    quote = forms.CharField(
        label="Their words",
        max_length=QUOTE_CHARS,
        widget=forms.Textarea(attrs={"rows": 3, "dir": "auto"}),
        help_text="Word for word. They are the proof.",
        error_messages={"required": "Please keep their words; without them nothing is agreed."},
    )

    def __init__(self, *args: Any, case: Case, **kwargs: Any) -> None:
        """Begin with what the case allows now."""
        names = (
            "may_publish_answer",
            "may_show_photos",
            "credit_kind",
            "credit_as",
            "is_under_16",
            "guardian_agreed",
        )
        kwargs.setdefault("initial", {name: getattr(case, name) for name in names})
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        """Ask for the name where one is to be said."""
        data = super().clean() or {}
        is_named = data.get("credit_kind") not in (None, CreditKind.ANONYMOUS)
        if is_named and not data.get("credit_as"):
            self.add_error("credit_as", "Please write the name as it should be said.")
        return data

    @property
    def consent(self) -> Consent:
        """Return what was agreed."""
        data = self.cleaned_data
        is_named = data["credit_kind"] != CreditKind.ANONYMOUS
        return Consent(
            may_publish_answer=data["may_publish_answer"],
            may_show_photos=data["may_show_photos"],
            credit_kind=data["credit_kind"],
            credit_as=data["credit_as"] if is_named else "",
            is_under_16=data["is_under_16"],
            guardian_agreed=data["is_under_16"] and data["guardian_agreed"],
        )

    @property
    def quoted(self) -> Quote:
        """Return what was said, and where."""
        return Quote(self.cleaned_data["quote"], self.cleaned_data["where"])


class EraseForm(forms.Form):
    """Why somebody's data goes, and that it is meant."""

    why = forms.ChoiceField(
        label="Why",
        choices=WHY_ERASED,
        widget=forms.RadioSelect,
        error_messages={"required": "Please say why."},
    )
    is_meant = forms.BooleanField(
        label="I made sure that it is them who ask, and I know that it cannot be undone",
        error_messages={"required": "Please confirm that you made sure."},
    )
