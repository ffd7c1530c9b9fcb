"""Forms of the hook pages."""

import datetime
import re
from typing import Any

from django import forms
from django.utils import timezone

from helpdesk.answers.pieces import LONGEST_LIMIT, SHORTEST_LIMIT
from helpdesk.cases.models import Channel
from helpdesk.core.errors import DeskError
from helpdesk.hooks.events import KINDS
from helpdesk.hooks.models import HookSource, HookTarget
from helpdesk.incoming.fetching import RefusedAddressError, find_place

LOCAL_MINUTE = "%Y-%m-%dT%H:%M"
MOST_HOSTS = 20
_HOST = re.compile(r"\.?[a-z0-9]([a-z0-9.-]{0,251}[a-z0-9])?")


class SourceForm(forms.ModelForm):  # type: ignore[type-arg]
    """Who reports to the desk."""

    channel = forms.ChoiceField(
        label="Its reports came by",
        choices=[(c.value, c.label) for c in (Channel.CHAT, Channel.DIRECT, Channel.SOCIAL)],
    )
    picture_hosts = forms.CharField(
        label="Hosts its pictures are fetched from",
        required=False,
        help_text="One a line, such as pictures.example; .example stands for every host below it. "
        "Pictures that come along in the message need none.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    length_limit = forms.IntegerField(
        label="Longest message there",
        help_text="In characters; longer answers are cut into several.",
        min_value=SHORTEST_LIMIT,
        max_value=LONGEST_LIMIT,
    )

    class Meta:
        model = HookSource
        fields = ("name", "channel", "handle_where", "picture_hosts", "length_limit")
        labels = {"name": "Name", "handle_where": "Where its handles belong"}
        help_texts = {"handle_where": "As the case page says it, such as Marrow Lane chat."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Show the list of hosts line by line."""
        super().__init__(*args, **kwargs)
        self.initial["picture_hosts"] = "\n".join(self.instance.picture_hosts)

    def clean_picture_hosts(self) -> list[str]:
        """Return the hosts, or refuse what is none."""
        hosts = [line.strip().lower() for line in self.cleaned_data["picture_hosts"].splitlines()]
        hosts = [host for host in dict.fromkeys(hosts) if host]
        wrong = [host for host in hosts if not _HOST.fullmatch(host) or "." not in host]
        if wrong:
            raise forms.ValidationError(f"“{wrong[0][:60]}” is not the name of a host.")
        if len(hosts) > MOST_HOSTS:
            raise forms.ValidationError(f"Please name {MOST_HOSTS} hosts at most.")
        return hosts


class TargetForm(forms.ModelForm):  # type: ignore[type-arg]
    """Whom the desk tells what."""

    source = forms.ModelChoiceField(
        label="Belongs to the source",
        queryset=HookSource.objects.all(),
        required=False,
        empty_label="none: it hears of every case, without names or words",
        help_text="The bot of a source hears of its own cases only, with the words to pass on and "
        "the private address of each.",
    )
    kinds = forms.MultipleChoiceField(
        label="It hears when",
        choices=[(kind, f"{words} ({kind})") for kind, words in KINDS.items()],
        widget=forms.CheckboxSelectMultiple,
    )

    class Meta:
        model = HookTarget
        fields = ("name", "url", "source", "kinds")
        labels = {"name": "Name", "url": "Address"}
        help_texts = {"url": "Where messages are posted; it begins with https://."}

    def clean_url(self) -> str:
        """Return the address, or refuse one the desk never calls; a name may be set up later."""
        url = str(self.cleaned_data["url"]).strip()
        try:
            find_place(url)
        except RefusedAddressError as error:
            raise forms.ValidationError(str(error)) from error
        except DeskError:
            return url
        return url


class ReplayForm(forms.Form):
    """Which deliveries of a target are sent again."""

    since = forms.DateTimeField(
        label="Written from",
        input_formats=[LOCAL_MINUTE],
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format=LOCAL_MINUTE),
    )
    until = forms.DateTimeField(
        label="to",
        input_formats=[LOCAL_MINUTE],
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format=LOCAL_MINUTE),
    )
    with_sent = forms.BooleanField(label="Also those that arrived", required=False)

    def clean(self) -> dict[str, Any]:
        """Refuse a span that ends before it begins."""
        data: dict[str, Any] = super().clean() or {}
        since, until = data.get("since"), data.get("until")
        if since and until and since > until:
            raise forms.ValidationError("The span ends before it begins.")
        return data

    @staticmethod
    def initial_span(now: datetime.datetime) -> dict[str, datetime.datetime]:
        """Return the last day up to the next minute."""
        local = timezone.localtime(now)
        return {
            "since": local - datetime.timedelta(days=1),
            "until": local + datetime.timedelta(minutes=1),
        }
