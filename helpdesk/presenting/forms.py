"""The form that draws a mark."""

from typing import ClassVar

from django import forms

from helpdesk.presenting.models import PictureMark


class MarkForm(forms.ModelForm):  # type: ignore[type-arg]
    """A mark: its shape, its two points in percent of the picture, and what it shows."""

    class Meta:
        model = PictureMark
        fields: ClassVar = ["shape", "x1_pct", "y1_pct", "x2_pct", "y2_pct", "words"]
        labels: ClassVar = {"words": "What it shows"}
