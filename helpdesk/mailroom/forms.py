"""Forms of the mailroom."""

from django import forms

from helpdesk.mailroom.selectors import DEFAULT_SHELF, SHELVES


class ShelfForm(forms.Form):
    """Which part of the mailroom is looked at."""

    shelf = forms.ChoiceField(choices=[(name, name) for name in SHELVES], required=False)

    @property
    def chosen(self) -> str:
        """Return the part asked for, else the one that wants a look."""
        return str(self.cleaned_data.get("shelf") or DEFAULT_SHELF)


class CaseNumberForm(forms.Form):
    """The case a letter belongs to."""

    case = forms.IntegerField(label="Number of the case", min_value=1, max_value=2**53)
