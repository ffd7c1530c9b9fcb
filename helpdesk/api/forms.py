"""The form that makes a token."""

import datetime
import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from helpdesk.api.models import ChannelToken, Scope
from helpdesk.cases.models import Channel
from helpdesk.core import clock

LONGEST_LIFE_DAYS = 730
USUAL_LIFE_DAYS = 365
# The form and the mail have doors of their own.
CHANNELS = [pair for pair in Channel.choices if pair[0] not in (Channel.WEB, Channel.MAIL)]
USUAL_SCOPES = [
    Scope.REPORT_WRITE.value,
    Scope.REPLY_WRITE.value,
    Scope.CASE_READ.value,
    Scope.EVENT_READ.value,
]
HOST = re.compile(r"\.?([a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?\.)+[a-z]{2,24}")


class TokenForm(forms.Form):
    """Who a token is for and what it may do."""

    name = forms.CharField(
        label="Name",
        max_length=80,
        help_text="Which program uses it, such as “Bot of the Tuesday server”.",
        error_messages={"required": "Please name the program that will use the token."},
    )
    channel = forms.ChoiceField(label="Its reports come by", choices=CHANNELS)
    handle_where = forms.CharField(
        label="Where its handles belong",
        max_length=80,
        required=False,
        help_text="The server or network, as a reviewer knows it.",
    )
    scopes = forms.MultipleChoiceField(
        label="It may",
        choices=Scope.choices,
        widget=forms.CheckboxSelectMultiple,
        initial=USUAL_SCOPES,
        error_messages={"required": "Please choose at least one thing the token may do."},
    )
    picture_hosts = forms.CharField(
        label="Hosts of pictures",
        required=False,
        max_length=1000,
        help_text="Pictures of posts are fetched from these hosts only, comma-separated; one that "
        "begins with a dot stands for all hosts below it.",
    )
    days = forms.IntegerField(
        label="Days until it ends",
        min_value=1,
        max_value=LONGEST_LIFE_DAYS,
        initial=USUAL_LIFE_DAYS,
        error_messages={
            "required": "Please say in how many days the token ends.",
            "invalid": "Please give a whole number of days.",
            "min_value": "A token lasts a day at least.",
            "max_value": f"A token lasts {LONGEST_LIFE_DAYS} days at most.",
        },
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Tie each control to its help."""
        super().__init__(*args, **kwargs)
        for name in ("name", "handle_where", "picture_hosts"):
            self.fields[name].widget.attrs["aria-describedby"] = f"id_{name}_helptext"

    def clean_name(self) -> str:
        """Refuse a name another token has."""
        name: str = self.cleaned_data["name"]
        if ChannelToken.objects.filter(name=name).exists():
            raise ValidationError("Another token has this name. Please choose a different one.")
        return name

    def clean_picture_hosts(self) -> list[str]:
        """Return the hosts in lower case."""
        given = [host.strip().lower() for host in self.cleaned_data["picture_hosts"].split(",")]
        hosts = [host for host in given if host]
        for host in hosts:
            if not HOST.fullmatch(host):
                raise ValidationError(
                    "Please give plain host names, such as files.workshop.example."
                )
        return hosts

    def values(self) -> dict[str, Any]:
        """Return what the service takes."""
        data = self.cleaned_data
        ends = clock.now() + datetime.timedelta(days=data["days"])
        names = ("name", "channel", "handle_where", "scopes", "picture_hosts")
        return {**{name: data[name] for name in names}, "expires_at": ends}
