"""What a reviewer sends about two cases."""

from django import forms

from helpdesk.cases.models import Case


class JoinForm(forms.Form):
    """The number of the case that is about the same print."""

    into = forms.IntegerField(
        label="Number of the other case",
        min_value=1,
        max_value=2**63 - 1,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "size": 8, "autocomplete": "off"}),
        error_messages={
            "required": "Please give the number of the other case.",
            "invalid": "A case has a number, such as 417.",
            "min_value": "A case has a number, such as 417.",
            "max_value": "There is no case with this number.",
        },
    )

    def clean_into(self) -> Case:
        """Return the case of the number."""
        case = Case.objects.filter(pk=self.cleaned_data["into"]).first()
        if case is None:
            raise forms.ValidationError("There is no case with this number.")
        return case


class LikelyForm(forms.Form):
    """What is known of something that is about to be entered."""

    text = forms.CharField(required=False, max_length=20_000)
    link = forms.CharField(required=False, max_length=500)
    address = forms.CharField(required=False, max_length=254)
    where = forms.CharField(required=False, max_length=80)
