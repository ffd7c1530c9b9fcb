"""The form for a report that a reviewer enters for somebody."""

import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from helpdesk.capture.limits import LEAST_LETTERS, STORY_LIMIT
from helpdesk.cases.models import Channel, CreditKind
from helpdesk.cases.services import Consent, NewReport, Quote
from helpdesk.core import clock
from helpdesk.core.fields import WebLinkField, has_letters, line_field, text_field

QUOTE_LIMIT = 2_000
CONSENT_FIELDS = (
    "quote",
    "quote_where",
    "quote_on",
    "may_publish_answer",
    "may_show_photos",
    "credit_as",
    "age",
)
OWN, PASSED_ON = "own", "passed_on"
OVER, UNDER = "over", "under"
HANDLE_CHANNELS = (Channel.CHAT, Channel.DIRECT, Channel.SOCIAL)
WAYS = [
    ("", "Please choose"),
    (Channel.CHAT.value, "Chat server"),
    (Channel.DIRECT.value, "Direct message"),
    (Channel.SOCIAL.value, "Social post"),
    (Channel.PERSON.value, "In person"),
    (Channel.MAIL.value, "E-mail"),
    (Channel.OTHER.value, "Another way"),
]
CREDITS = [
    (CreditKind.ANONYMOUS.value, "Not named, or they did not say"),
    (CreditKind.NAME.value, "By name"),
    (CreditKind.HANDLE.value, "By handle"),
]
AGES = [(OVER, "16 or older"), (UNDER, "Under 16")]
NO_QUOTE = "Please enter the words they said it in; without them nothing may be shown."
NO_AGE = "Please say whether the person is under 16, because they allow something to be shown."
NOT_THEIRS = (
    "Nothing of a print that is passed on is shown, for only its owner can agree. "
    "Please take this tick away."
)


class PasteForm(forms.Form):
    """Words of somebody, where they stood, and whose they are."""

    words = text_field(
        "What they wrote or said",
        "the words",
        STORY_LIMIT,
        9,
        help_text="Paste it as it is: one message, a piece of a chat, or the note behind a post.",
        error_messages={"required": "Paste or type what they wrote or said."},
        attrs={"autofocus": True},
    )
    link = WebLinkField(label="Address of the post")
    channel = forms.ChoiceField(
        label="Came by",
        choices=WAYS,
        error_messages={"required": "Please say how it came."},
    )
    handle = line_field("Handle", "the handle", 80)
    handle_where = line_field(
        "Where is that?", "the place", 80, help_text="The name of the server, network or group."
    )
    person_name = line_field("Name, if you know it", "the name", 80)
    email = forms.EmailField(
        label="E-mail, if they gave it",
        required=False,
        max_length=254,
        help_text="They get a receipt with a private page there.",
        widget=forms.EmailInput(attrs={"autocomplete": "off"}),
        error_messages={
            "invalid": "Give the e-mail address in full, such as name@place.example.",
            "max_length": "Please give an e-mail address of 254 characters at most.",
        },
    )
    whose = forms.ChoiceField(
        label="Whose print is it?",
        choices=[(OWN, "Their own"), (PASSED_ON, "Somebody else’s; they pass it on")],
        widget=forms.RadioSelect,
        initial=OWN,
    )
    owner_name = line_field("Passed on for", "the owner’s name", 80)
    quote = text_field(
        "What they said of showing it, word for word", "the words", QUOTE_LIMIT, 2, required=False
    )
    quote_where = line_field("Where they said it", "the place", 50)
    quote_on = forms.DateField(
        label="When they said it",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Give the day as year-month-day, such as 2026-11-25."},
    )
    may_publish_answer = forms.BooleanField(
        label="The answer may be published, without a name", required=False
    )
    may_show_photos = forms.BooleanField(label="The photos may be shown", required=False)
    credit_kind = forms.ChoiceField(
        label="To be named", choices=CREDITS, initial=CreditKind.ANONYMOUS, required=False
    )
    credit_as = line_field("The name as it should be said aloud", "the name to be said", 80)
    age = forms.ChoiceField(
        label="The person’s age",
        choices=AGES,
        widget=forms.RadioSelect,
        required=False,
        help_text="Under 16, a parent or guardian has to agree before anything is shown or said.",
    )

    def clean_words(self) -> str:
        """Return the words if there are letters of any script in them."""
        words = str(self.cleaned_data["words"])
        if not has_letters(words, LEAST_LETTERS):
            raise ValidationError("Please add a few words of what happened.", code="no_words")
        return words

    def clean_quote_on(self) -> datetime.date | None:
        """Return the day of the consent, which cannot lie ahead."""
        day: datetime.date | None = self.cleaned_data["quote_on"]
        if day and day > clock.today():
            raise ValidationError("Please check the day: it has not come yet.", code="ahead")
        return day

    def clean(self) -> dict[str, Any]:
        """Ask for what an answer and a consent need."""
        data = super().clean() or {}
        data["credit_kind"] = data.get("credit_kind") or CreditKind.ANONYMOUS.value
        if data.get("handle") and data.get("channel") in HANDLE_CHANNELS:
            self._ask("handle_where", "Say where that handle is, so that an answer finds them.")
        shown = [name for name in ("may_publish_answer", "may_show_photos") if data.get(name)]
        is_named = data["credit_kind"] != CreditKind.ANONYMOUS
        if data.get("whose") == PASSED_ON:
            for name in shown:
                self.add_error(name, NOT_THEIRS)
        if shown or is_named:
            self._ask("quote", NO_QUOTE)
            self._ask("age", NO_AGE)
        if is_named and not self._spoken(data):
            self.add_error("credit_as", "Write the name as it should be said, or leave it unnamed.")
        return data

    def new_report(self, submission_key: str) -> NewReport:
        """Return the report as the cases app takes it; consent is kept with its words."""
        data = self.cleaned_data
        is_own = data["whose"] == OWN
        return NewReport(
            story=data["words"],
            submission_key=submission_key,
            channel=data["channel"],
            person_name=data["person_name"],
            reply_channel=self._reply_channel(),
            email=data["email"],
            handle=data["handle"],
            handle_where=data["handle_where"],
            is_own_print=is_own,
            owner_name="" if is_own else data["owner_name"],
            owner_link="" if is_own else data["link"],
            link=data["link"],
        )

    @property
    def has_consent(self) -> bool:
        """Return True when anything of a consent is filled in or refused."""
        return any(self[name].value() or name in self.errors for name in CONSENT_FIELDS)

    @property
    def quoted(self) -> Quote | None:
        """Return the person's words on what may be shown, None when they said nothing."""
        data = self.cleaned_data
        if not data["quote"]:
            return None
        day = f"{data['quote_on'] or clock.today():%-d %B %Y}"
        return Quote(data["quote"], ", ".join(filter(None, (data["quote_where"], day))))

    @property
    def consent(self) -> Consent:
        """Return what the person said may be shown."""
        data = self.cleaned_data
        is_named = data["credit_kind"] != CreditKind.ANONYMOUS
        return Consent(
            may_publish_answer=data["may_publish_answer"],
            may_show_photos=data["may_show_photos"],
            credit_kind=data["credit_kind"],
            credit_as=data["credit_as"] if is_named else "",
            is_under_16=data["age"] == UNDER,
        )

    def _ask(self, name: str, words: str) -> None:
        """Refuse the form where a field is empty that was not refused already."""
        if not self.cleaned_data.get(name) and name not in self.errors:
            self.add_error(name, words)

    def _spoken(self, data: dict[str, Any]) -> str:
        """Return the name a credit would say."""
        by_handle = data["credit_kind"] == CreditKind.HANDLE
        return str(data.get("credit_as") or data.get("handle" if by_handle else "person_name"))

    def _reply_channel(self) -> str:
        """Return how to answer: where they wrote, or by mail where that has no way back."""
        channel = str(self.cleaned_data["channel"])
        has_way_back = channel in HANDLE_CHANNELS or not self.cleaned_data["email"]
        return channel if has_way_back else Channel.MAIL
