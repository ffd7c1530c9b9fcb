"""Forms of a table that is brought in."""

from typing import Any

from django import forms

from helpdesk.capture.columns import LEAVE_OUT, TARGETS
from helpdesk.capture.dates import DateOrder
from helpdesk.capture.forms import WAYS
from helpdesk.capture.models import TableImport
from helpdesk.capture.sheets import DELIMITERS, ENCODINGS
from helpdesk.cases.models import Channel

MEANINGS = [(LEAVE_OUT, "Nothing of these"), *((n, t.label) for n, t in TARGETS.items())]
ORDERS = [
    ("", "As the dates themselves say"),
    (DateOrder.DAY_FIRST.value, "The day comes first: 25/11/2026"),
    (DateOrder.MONTH_FIRST.value, "The month comes first: 11/25/2026"),
]


class TableForm(forms.Form):
    """The file of a table."""

    table = forms.FileField(
        label="The table",
        help_text="A text file: CSV or tab-separated, in UTF-8 if you can choose.",
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt,text/csv"}),
        error_messages={
            "required": "Please choose a file.",
            "empty": "The file is empty. Please choose the table again.",
        },
    )


class LayoutForm(forms.Form):
    """How the file is read, where it was not found out rightly."""

    encoding = forms.ChoiceField(label="Characters", choices=list(ENCODINGS.items()))
    delimiter = forms.ChoiceField(
        label="Cells are parted by", choices=[(sign, name) for sign, name in DELIMITERS.items()]
    )


class PlanForm(forms.Form):
    """What each column is, how dates are read, and how the reports came."""

    date_order = forms.ChoiceField(label="Dates with three numbers", choices=ORDERS, required=False)
    channel = forms.ChoiceField(
        label="The reports came by, where no column says so", choices=WAYS[1:]
    )

    def __init__(self, *args: Any, table: TableImport, **kwargs: Any) -> None:
        """Make a field for each column of the table."""
        kwargs.setdefault("initial", {"date_order": table.date_order, "channel": table.channel})
        super().__init__(*args, **kwargs)
        self.fields["channel"].initial = Channel.OTHER
        self.names = [f"column_{place}" for place in range(len(table.header))]
        for name, header, target in zip(self.names, table.header, table.columns, strict=True):
            self.fields[name] = forms.ChoiceField(
                label=header, choices=MEANINGS, initial=target, required=False
            )

    @property
    def columns(self) -> list[str]:
        """Return what was chosen for each column, in order."""
        return [self.cleaned_data[name] for name in self.names]

    @property
    def column_fields(self) -> list[forms.BoundField]:
        """Return the fields of the columns, in order."""
        return [self[name] for name in self.names]
