"""Forms about people."""

from django import forms

from helpdesk.cases.models import CreditKind
from helpdesk.people.models import NAME_CHARS, Part, Person

WORDS_CHARS = 200


class FindForm(forms.Form):
    """Words of a name or an address."""

    words = forms.CharField(label="Name, address or handle", required=False, max_length=WORDS_CHARS)

    @property
    def looked_for(self) -> str:
        """Return the words, "" when there are none that can be looked for."""
        return str(self.cleaned_data.get("words", "")) if self.is_valid() else ""


class PersonForm(forms.ModelForm):  # type: ignore[type-arg]
    """How a person is called, said and credited, and what the desk notes of them."""

    credit_kind = forms.ChoiceField(
        label="Their usual wish for credits",
        choices=[("", "not known"), *CreditKind.choices],
        required=False,
        help_text="A reminder only: what may be said of a case is what they agreed for that case.",
    )

    class Meta:
        model = Person
        fields = ("name", "said_as", "credit_kind", "notes")
        labels = {"said_as": "How the name is said", "notes": "Notes between us"}
        widgets = {
            "name": forms.TextInput(attrs={"dir": "auto", "autocomplete": "off"}),
            "said_as": forms.TextInput(attrs={"dir": "auto", "autocomplete": "off"}),
            "notes": forms.Textarea(attrs={"rows": 3, "dir": "auto"}),
        }


class MergeForm(forms.Form):
    """Who is the same person."""

    gone = forms.ModelChoiceField(
        label="Number of the other one",
        queryset=Person.objects.filter(merged_into__isnull=True),
        widget=forms.NumberInput(attrs={"min": 1, "class": "short"}),
        error_messages={
            "required": "Give the number of the other person, as it stands on their page.",
            "invalid_choice": "There is nobody with this number. It stands on a person’s page.",
        },
    )


class SplitForm(forms.Form):
    """What the person of an address that is split off is called."""

    name = forms.CharField(label="Their name, if known", required=False, max_length=NAME_CHARS)


class OwnerCreditForm(forms.ModelForm):  # type: ignore[type-arg]
    """How the owner of a print that was passed on wants to be named."""

    class Meta:
        model = Part
        fields = ("credit_kind", "credit_as")
        labels = {"credit_kind": "Name the owner", "credit_as": "As"}
