"""Forms of the account pages."""

from django import forms
from django.contrib.auth.forms import AuthenticationForm

from helpdesk.accounts.models import User


class LoginForm(AuthenticationForm):
    """Name and password."""

    error_messages = {
        "invalid_login": "That name and password do not fit together. Please try again.",
        "inactive": "That name and password do not fit together. Please try again.",
    }


class KeysForm(forms.ModelForm):  # type: ignore[type-arg]
    """A person's own settings."""

    class Meta:
        model = User
        fields = ("spoken_name", "has_keys")
