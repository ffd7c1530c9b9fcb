"""The form of a second look."""

from typing import Any

from django import forms

from helpdesk.diagnosis.engine import list_faults
from helpdesk.diagnosis.models import Opinion, Sureness

NOTHING = "No further one"


def _choices(process: str) -> list[tuple[str, list[tuple[str, str]]]]:
    """Return the faults of a process as groups of a select."""
    families: dict[str, list[tuple[str, str]]] = {}
    for info in list_faults(process):
        families.setdefault(info.family.capitalize(), []).append((info.id, info.name))
    return sorted(families.items())


class OpinionForm(forms.Form):
    """What somebody makes of a report: one fault, perhaps two more, and how sure."""

    main = forms.ChoiceField(label="Most likely")
    second = forms.ChoiceField(label="Perhaps with it", required=False)
    third = forms.ChoiceField(label="Or also", required=False)
    sureness = forms.ChoiceField(
        label="How sure are you?",
        choices=[("", "I would rather not say"), *Sureness.choices],
        required=False,
    )
    is_blind = forms.BooleanField(
        label="I have seen nothing of this case but what stands here.",
        error_messages={
            "required": "A second look counts only from who has seen nothing but the report."
        },
    )

    def __init__(self, *args: Any, process: str = "", **kwargs: Any) -> None:
        """Offer the faults of the process, or all of them."""
        super().__init__(*args, **kwargs)
        groups = _choices(process)
        for name, empty in (("main", "Choose a fault"), ("second", NOTHING), ("third", NOTHING)):
            field = self.fields[name]
            assert isinstance(field, forms.ChoiceField)  # noqa: S101 - for the type checker
            field.choices = [("", empty), *groups]

    @property
    def named(self) -> list[str]:
        """Return the faults named, the main one first, each once."""
        data = self.cleaned_data
        return list(dict.fromkeys(f for f in (data["main"], data["second"], data["third"]) if f))


def opinion_values(opinion: Opinion | None) -> dict[str, Any]:
    """Return what the form shows of an opinion given before."""
    if opinion is None:
        return {}
    named = dict(zip(("main", "second", "third"), opinion.faults, strict=False))
    return {
        **{name: fault["fault"] for name, fault in named.items()},
        "sureness": opinion.sureness,
        "is_blind": True,
    }
