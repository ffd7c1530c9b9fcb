"""The search form."""

from django import forms

from helpdesk.cases.models import OutcomeResult
from helpdesk.diagnosis.engine import fault_info
from helpdesk.diagnosis.errors import UnknownThingError
from helpdesk.search.selectors import MAX_PAGES, list_filter_choices


class SearchForm(forms.Form):
    """Words and filters; all optional."""

    words = forms.CharField(required=False, max_length=300, strip=True, label="Words")
    fault = forms.ChoiceField(required=False)
    machine = forms.ChoiceField(required=False, label="Printer")
    material = forms.ChoiceField(required=False)
    outcome = forms.ChoiceField(required=False)
    page = forms.IntegerField(
        required=False, min_value=1, max_value=MAX_PAGES, widget=forms.HiddenInput
    )

    def __init__(self, *args: object, **kwargs: object) -> None:
        """Fill the choices with what the index holds."""
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        found = list_filter_choices()
        self._choose("fault", [(f, _fault_name(f)) for f in found["fault"]])
        self._choose("machine", [(m, m) for m in found["machine"]])
        self._choose("material", [(m, m) for m in found["material"]])
        self._choose("outcome", OutcomeResult.choices)

    def _choose(self, name: str, choices: list[tuple[str, str]]) -> None:
        """Set a select's choices with "any" first."""
        field = self.fields[name]
        if isinstance(field, forms.ChoiceField):
            field.choices = [("", "Any"), *choices]


def _fault_name(fault: str) -> str:
    """Return a fault's name; one that a later revision of the knowledge dropped keeps its id."""
    try:
        return fault_info(fault).name
    except UnknownThingError:
        return fault
