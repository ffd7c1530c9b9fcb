"""The report form and the forms of the tracking page."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from helpdesk.answers.forms import TellOutcomeForm
from helpdesk.cases.models import Case, Channel, CreditKind, Process
from helpdesk.cases.services import CONSENT_WORDING, FACT_FIELDS, Consent, NewReport
from helpdesk.cases.wordings import WORDINGS
from helpdesk.core.fields import (
    MeasureField,
    WebLinkField,
    count_letters,
    line_field,
    text_field,
)
from helpdesk.core.http import storable
from helpdesk.incoming.measures import (
    FAILED_AT,
    LAYER_HEIGHT,
    NOZZLE,
    NOZZLE_HEAT,
    PLATE_HEAT,
    SPEED,
)

NOW_ASKED = WORDINGS[CONSENT_WORDING]
STORY_LIMIT = 50_000
LEAST_LETTERS = 3
AS_SENT_CHARS = 5_000
OWN, PASSING_ON = "own", "passing_on"
OVER, UNDER = "over", "under"
FACT_NAMES = tuple(name for name in FACT_FIELDS if name != "title")
PROCESSES = [
    (Process.UNKNOWN.value, "I do not know"),
    (Process.MEX.value, "Melted filament or granules (extrusion)"),
    (Process.VPP.value, "Liquid resin and light (resin vat)"),
]
WAYS = [
    (Channel.MAIL.value, "By e-mail"),
    (Channel.CHAT.value, "On a chat server"),
    (Channel.DIRECT.value, "By direct message"),
    (Channel.SOCIAL.value, "Under a social post"),
]
CREDITS = [
    (CreditKind.ANONYMOUS.value, "Do not name me"),
    (CreditKind.NAME.value, "By name"),
    (CreditKind.HANDLE.value, "By handle"),
]
AGES = [(OVER, "I am 16 or older"), (UNDER, "I am under 16")]
NO_STORY = "Please tell us in a few words what happened."
NO_WORDS = "Please add a few words: from signs alone we cannot tell what happened."
NO_CREDIT = "Please write the name as it should be said, or choose not to be named."
NO_AGE = "Please say whether you are under 16, because you allow something to be shown."
AGE_HELP = "Under 16, a parent or guardian has to agree before anything is shown or said."


class ConsentForm(forms.Form):
    """What may be shown and how the person is named; everything is refused until chosen."""

    may_publish_answer = forms.BooleanField(label=NOW_ASKED.asked("answer"), required=False)
    may_show_photos = forms.BooleanField(label=NOW_ASKED.photos, required=False)
    credit_kind = forms.ChoiceField(
        label=NOW_ASKED.asked("name"),
        choices=CREDITS,
        widget=forms.RadioSelect,
        initial=CreditKind.ANONYMOUS,
        required=False,
    )
    credit_as = line_field(
        "The name as it should be said aloud",
        "the name to be said",
        80,
        help_text="Spell it the way it sounds, if that helps.",
    )
    age = forms.ChoiceField(
        label="Your age",
        choices=AGES,
        widget=forms.RadioSelect,
        required=False,
        help_text=AGE_HELP,
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Name the show where photos may be seen."""
        super().__init__(*args, **kwargs)
        self.fields["may_show_photos"].label = NOW_ASKED.asked("photos")

    def clean(self) -> dict[str, Any]:
        """Fill what was left open with the most private choice and ask what is still needed."""
        data = super().clean() or {}
        data["credit_kind"] = data.get("credit_kind") or CreditKind.ANONYMOUS.value
        if "credit_as" in data and not self.spoken_name(data):
            self.add_error("credit_as", NO_CREDIT)
        if self.is_anything_shown(data) and not data.get("age") and "age" not in self.errors:
            self.add_error("age", NO_AGE)
        return data

    def spoken_name(self, data: dict[str, Any]) -> str:
        """Return what the credit would say; "not named" counts as a choice."""
        if data["credit_kind"] == CreditKind.ANONYMOUS:
            return "-"
        return str(data.get("credit_as") or "")

    def is_anything_shown(self, data: dict[str, Any]) -> bool:
        """Return True when answer, photos or name may become public."""
        return (
            bool(data.get("may_publish_answer") or data.get("may_show_photos"))
            or data["credit_kind"] != CreditKind.ANONYMOUS
        )

    def consent(self, *, is_under_16: bool, guardian_agreed: bool = False) -> Consent:
        """Return what was agreed."""
        data = self.cleaned_data
        is_named = data["credit_kind"] != CreditKind.ANONYMOUS
        return Consent(
            may_publish_answer=data["may_publish_answer"],
            may_show_photos=data["may_show_photos"],
            credit_kind=data["credit_kind"],
            credit_as=data["credit_as"] if is_named else "",
            is_under_16=is_under_16,
            guardian_agreed=guardian_agreed,
        )


class ReportForm(ConsentForm):
    """A failed print in the person's own words, with what they know of it."""

    story = text_field(
        "Your story",
        "your story",
        STORY_LIMIT,
        7,
        help_text="What did you print, what did you hope for, what came out? "
        "What did you hear or smell?",
        error_messages={"required": NO_STORY},
    )
    failed_at_mm = MeasureField(
        FAILED_AT,
        label="At what height did it go wrong, in millimetres?",
        help_text="Measured from the plate. A guess is fine.",
    )
    tried = text_field(
        "What have you tried already?",
        "what you tried",
        5_000,
        3,
        required=False,
        help_text="And did it change anything?",
    )
    process = forms.ChoiceField(
        label="How does the printer work?", choices=PROCESSES, required=False
    )
    machine = line_field("Printer", "the printer’s name", 80, attrs={"list": "machines"})
    material = line_field("Material", "the material", 40, attrs={"list": "materials"})
    material_maker = line_field(
        "Who made the material?", "the maker’s name", 80, attrs={"list": "makers"}
    )
    batch = line_field(
        "Batch or lot", "the batch", 60, help_text="It stands on the spool or bottle."
    )
    layer_height_mm = MeasureField(LAYER_HEIGHT, label="Layer height in mm")
    nozzle_mm = MeasureField(NOZZLE, label="Nozzle width in mm")
    nozzle_c = MeasureField(NOZZLE_HEAT, label="Nozzle temperature in °C")
    bed_c = MeasureField(PLATE_HEAT, label="Plate temperature in °C")
    speed_mm_s = MeasureField(SPEED, label="Speed in mm/s")
    whose = forms.ChoiceField(
        label="Whose print is it?",
        choices=[(OWN, "Mine"), (PASSING_ON, "Somebody else’s; I am passing it on")],
        widget=forms.RadioSelect,
        initial=OWN,
        error_messages={"required": "Please say whose print it is."},
    )
    owner_name = line_field("Whose is it, if you know?", "the owner’s name", 80)
    owner_link = WebLinkField(
        label="Where did you see it?", help_text="The address of the post, if there is one."
    )
    person_name = line_field("Your name", "your name", 80, attrs={"autocomplete": "name"})
    answer_by = forms.ChoiceField(
        label="How shall we answer?",
        choices=WAYS,
        widget=forms.RadioSelect,
        initial=Channel.MAIL,
        error_messages={"required": "Please say how we shall answer."},
    )
    email = forms.EmailField(
        label="E-mail",
        required=False,
        max_length=254,
        help_text="Needed for an answer by e-mail. Used for this print only.",
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
        error_messages={
            "invalid": "Give the e-mail address in full, such as name@place.example.",
            "max_length": "Please give an e-mail address of 254 characters at most.",
        },
    )
    handle = line_field(
        "Your handle there", "your handle", 80, help_text="Needed for an answer elsewhere."
    )
    handle_where = line_field(
        "Where is that?",
        "the place",
        80,
        help_text="The name of the server, network or group. Needed for an answer elsewhere.",
    )
    keeps_originals = forms.BooleanField(
        label="Keep my original photos privately",
        required=False,
        help_text="They may show a detail our smaller copies lose, and hold what your camera "
        "wrote into them, such as the place. Only reviewers can open them.",
    )
    web_page = forms.CharField(
        label="Leave this empty",
        required=False,
        widget=forms.TextInput(attrs={"tabindex": "-1", "autocomplete": "off"}),
    )

    def clean_story(self) -> str:
        """Return the story if it has words in any script."""
        story = str(self.cleaned_data["story"])
        if count_letters(story) < LEAST_LETTERS:
            raise ValidationError(NO_WORDS, code="no_words")
        return story

    def clean(self) -> dict[str, Any]:
        """Ask for what the chosen way of answering needs."""
        data = super().clean()
        way = data.get("answer_by")
        if way == Channel.MAIL:
            if not data.get("email") and "email" not in self.errors:
                self.add_error(
                    "email", "Give an e-mail address for the answer, or choose another way."
                )
        elif way:
            for name, words in (
                ("handle", "Give the handle we shall answer to, or choose e-mail."),
                ("handle_where", "Say where that handle is, so that we find you."),
            ):
                if not data.get(name) and name not in self.errors:
                    self.add_error(name, words)
        return data

    def is_trapped(self) -> bool:
        """Return True when the field no person sees was filled in."""
        return bool(self.data.get("web_page"))

    def spoken_name(self, data: dict[str, Any]) -> str:
        """Return the credit, for which name and handle given elsewhere will do."""
        fallback = "handle" if data["credit_kind"] == CreditKind.HANDLE else "person_name"
        return super().spoken_name(data) or str(data.get(fallback) or "")

    def is_anything_shown(self, data: dict[str, Any]) -> bool:
        """Return True as for any consent; answer and photos of another's print never are."""
        if data.get("whose") == PASSING_ON:
            return bool(data["credit_kind"] != CreditKind.ANONYMOUS)
        return super().is_anything_shown(data)

    def new_report(self, submission_key: str) -> NewReport:
        """Return the report as the cases app takes it."""
        data = self.cleaned_data
        is_by_mail = data["answer_by"] == Channel.MAIL
        return NewReport(
            story=data["story"],
            submission_key=submission_key,
            facts={name: data[name] for name in FACT_NAMES},
            facts_as_sent={name: words for name in FACT_NAMES if (words := self._as_sent(name))},
            person_name=data["person_name"],
            reply_channel=data["answer_by"],
            email=data["email"],
            handle="" if is_by_mail and not data["handle"] else data["handle"],
            handle_where=data["handle_where"],
            is_own_print=data["whose"] == OWN,
            owner_name=data["owner_name"] if data["whose"] == PASSING_ON else "",
            owner_link=data["owner_link"] if data["whose"] == PASSING_ON else "",
            consent=self.consent(is_under_16=data["age"] == UNDER),
            keeps_originals=data["keeps_originals"],
        )

    def _as_sent(self, name: str) -> str:
        """Return a fact as it was typed."""
        return storable(str(self.data.get(name, ""))).strip()[:AS_SENT_CHARS]


class ReplyForm(forms.Form):
    """Free words from the tracking page."""

    words = text_field("Anything to add?", "your reply", 20_000, 4, required=False)


class OutcomeForm(TellOutcomeForm):
    """Whether what was advised worked, and which step did it."""

    outcome_words = text_field(
        "What happened, in your words?", "your words", 5_000, 3, required=False
    )


class ChangeConsentForm(ConsentForm):
    """A change of consent on the tracking page; a guardian agrees here for the young."""

    guardian_agrees = forms.BooleanField(
        label=NOW_ASKED.asked("guardian"),
        required=False,
    )
    guardian_name = line_field("Guardian’s name", "the guardian’s name", 80)

    def __init__(self, *args: Any, case: Case, **kwargs: Any) -> None:
        """Begin with what the case allows now; the age once given stays."""
        self.case = case
        kwargs.setdefault(
            "initial",
            {
                "may_publish_answer": case.may_publish_answer,
                "may_show_photos": case.may_show_photos,
                "credit_kind": case.credit_kind,
                "credit_as": case.credit_as,
                "age": UNDER if case.is_under_16 else "",
            },
        )
        super().__init__(*args, **kwargs)
        if case.is_under_16:
            del self.fields["age"]

    def clean(self) -> dict[str, Any]:
        """Ask for the guardian's name where a guardian agrees."""
        if self.case.is_under_16:
            # The question is not asked again, and what is posted for it is not believed.
            self.cleaned_data["age"] = UNDER
        data = super().clean()
        if data.get("guardian_agrees") and not data.get("guardian_name"):
            self.add_error("guardian_name", "Please give the guardian’s name.")
        return data

    def is_under_16(self) -> bool:
        """Return True when the person is, or was said to be, under 16."""
        return bool(self.cleaned_data["age"] == UNDER)


class NewLinkForm(forms.Form):
    """The address a lost private link is sent to."""

    email = forms.EmailField(
        label="The e-mail address you gave with your report",
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
        error_messages={
            "required": "Give the e-mail address you gave with your report.",
            "invalid": "Give the e-mail address in full, such as name@place.example.",
        },
    )
