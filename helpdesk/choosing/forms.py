"""Forms of the choosing pages."""

from collections.abc import Mapping
from typing import Any

from django import forms

from helpdesk.choosing.models import MOST_POINTS, EpisodeRules, Reason, WishKind
from helpdesk.choosing.weights import DEFAULTS

SHORT = {"class": "short", "inputmode": "numeric"}
HELP: Mapping[str, str] = {
    Reason.INSTRUCTIVE: "How far what can be seen moves belief in its fault; all of it at 6 bits.",
    Reason.FRESH: "How little the last four episodes had of its family, process and machine.",
    Reason.PICTURES: "The size of its best photo, descriptions, and a second look.",
    Reason.RESTED: "How long ago it was shown; all of it when never, or a year ago.",
    Reason.WAITING: "How long the person waits, or waited, for an answer; all of it at 14 days.",
    Reason.STORY: "A recovery, a fault in the model, something bought badly, or a surprise.",
    Reason.MARKED: "Somebody of the desk marked it for the show.",
}


class WeightsForm(forms.Form):
    """How many points each reason is worth at most."""

    def __init__(self, *args: Any, points: Mapping[str, int], **kwargs: Any) -> None:
        """Make a number field for every reason, filled with what is in force."""
        super().__init__(*args, **kwargs)
        for reason in Reason:
            name = reason.value
            has_help = reason in HELP
            attrs = {**SHORT, "min": 0, "max": MOST_POINTS}
            if has_help:
                attrs["aria-describedby"] = f"id_{name}_helptext"
            self.fields[name] = forms.IntegerField(
                label=reason.label,
                help_text=f"{HELP[reason]} Usually {DEFAULTS[reason]}." if has_help else "",
                min_value=0,
                max_value=MOST_POINTS,
                initial=points[reason],
                widget=forms.NumberInput(attrs=attrs),
            )

    def clean(self) -> dict[str, Any]:
        """Refuse a second case that is worth more than the first: variety only ever wears off."""
        values: dict[str, Any] = super().clean() or {}
        for dimension in ("family", "process", "machine"):
            first, second = values.get(f"{dimension}-first"), values.get(f"{dimension}-second")
            if first is not None and second is not None and second > first:
                self.add_error(
                    f"{dimension}-second", "The second case cannot be worth more than the first."
                )
        return values


class RulesForm(forms.ModelForm):  # type: ignore[type-arg]
    """What the set of an episode must keep to."""

    class Meta:
        model = EpisodeRules
        fields = ("most_per_person", "least_families", "least_case_s")
        labels = {
            "most_per_person": "Cases of one person, at most",
            "least_families": "Families of faults, at least",
            "least_case_s": "Seconds a case takes, at least",
        }
        help_texts = {
            "least_case_s": "For cases that stand on no sheet yet: time to show and to talk freely."
        }
        widgets = {
            name: forms.NumberInput(attrs=SHORT)
            for name in ("most_per_person", "least_families", "least_case_s")
        }


class WishForm(forms.Form):
    """What the producer wants of a case."""

    case = forms.IntegerField(min_value=1, max_value=2**31 - 1)
    kind = forms.ChoiceField(
        choices=[("", "no wish"), *WishKind.choices], required=False, label="Wish"
    )


class SwapForm(forms.Form):
    """Which case goes, and which comes for it."""

    out = forms.IntegerField(min_value=1, max_value=2**31 - 1)
    coming = forms.IntegerField(min_value=1, max_value=2**31 - 1)

    def clean(self) -> dict[str, Any]:
        """Refuse a case for itself."""
        values: dict[str, Any] = super().clean() or {}
        if values.get("out") == values.get("coming"):
            raise forms.ValidationError("A case cannot be swapped for itself.")
        return values
