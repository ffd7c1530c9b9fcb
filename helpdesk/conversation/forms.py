"""The form of a recurring text."""

from typing import Any

from django import forms

from helpdesk.answers.letters import normalise
from helpdesk.conversation.models import BODY_LIMIT, SetText, TextKind
from helpdesk.conversation.placeholders import find_faults


class SetTextForm(forms.Form):
    """A text with the version it was read at."""

    title = forms.CharField(
        max_length=80,
        help_text="What you look for in the list.",
        error_messages={"required": "The text needs a title to be found by."},
    )
    kind = forms.ChoiceField(label="Used as", choices=TextKind.choices)
    body = forms.CharField(
        label="Text",
        max_length=BODY_LIMIT,
        help_text="Plain words. Placeholders in braces are filled when the text is used.",
        widget=forms.Textarea(attrs={"rows": 10}),
        error_messages={"required": "The text is empty."},
    )
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=0, initial=0)

    def __init__(self, *args: Any, text_id: int | None = None, **kwargs: Any) -> None:
        """Remember which text is changed, whose own title is free."""
        kwargs.setdefault("auto_id", "text-%s")
        super().__init__(*args, **kwargs)
        self.text_id = text_id

    def clean_title(self) -> str:
        """Refuse a title that another text has."""
        title = str(self.cleaned_data["title"])
        if SetText.objects.filter(title__iexact=title).exclude(pk=self.text_id or 0).exists():
            raise forms.ValidationError("Another text has this title.")
        return title

    def clean_body(self) -> str:
        """Refuse placeholders nobody knows, and name those there are."""
        body = normalise(self.cleaned_data["body"])
        faults = find_faults(body)
        if faults:
            raise forms.ValidationError([forms.ValidationError(fault) for fault in faults])
        return body
