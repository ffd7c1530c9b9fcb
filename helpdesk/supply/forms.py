"""Forms of subjects, statements, remarks and notices."""

import re
from collections.abc import Iterable
from typing import Any

from django import forms

from helpdesk.core import clock
from helpdesk.core.fields import WordsField, line_field, text_field
from helpdesk.diagnosis.engine import list_faults
from helpdesk.photos.models import Photo
from helpdesk.supply.models import (
    LINE_CHARS,
    TEXT_CHARS,
    WHO_CHARS,
    ProductKind,
    RemarkKind,
    Subject,
    SubjectKind,
    Way,
)
from helpdesk.supply.names import NAME_CHARS, fold
from helpdesk.supply.wording import RULE_OF_ALL

MOST_NAMES = 20
LARGEST_NUMBER = 100_000  # of an episode
TITLE_CHARS = 120
LETTER_CHARS = TEXT_CHARS * 2
_SECOND = re.compile(r"(?:(\d{1,2}):)?(\d{1,3}):([0-5]?\d)|(\d{1,6})")


def needed_line(label: str, what: str, limit: int, required: str, **kwargs: Any) -> WordsField:
    """Return a field of one line that must be filled."""
    field = line_field(label, what, limit, **kwargs)
    field.required = True
    field.error_messages["required"] = required
    return field


def needed_text(label: str, what: str, rows: int, required: str, **kwargs: Any) -> WordsField:
    """Return a field of several lines that must be filled."""
    limit = kwargs.pop("limit", TEXT_CHARS)
    messages = {"required": required}
    return text_field(label, what, limit, rows, error_messages=messages, **kwargs)


def day_field(label: str, **kwargs: Any) -> forms.DateField:
    """Return a field for a day that is not to come."""
    return forms.DateField(
        label=label,
        widget=forms.DateInput(attrs={"type": "date", "class": "short"}, format="%Y-%m-%d"),
        input_formats=["%Y-%m-%d"],
        error_messages={"required": "Give the day.", "invalid": "Give a day such as 2026-03-08."},
        **kwargs,
    )


class SecondField(forms.CharField):
    """A place in a recording as "30:05" or "1:02:30", or in seconds; None when left empty."""

    def prepare_value(self, value: Any) -> Any:
        """Show stored seconds as minutes and seconds."""
        return f"{value // 60}:{value % 60:02}" if isinstance(value, int) else value

    def clean(self, value: Any) -> int | None:
        """Return the seconds, or refuse with an example."""
        text = super().clean(value)
        if not text:
            return None
        match = _SECOND.fullmatch(text.strip())
        if match is None:
            raise forms.ValidationError("Give a place of the recording such as 30:05.")
        hours, minutes, seconds, bare = match.groups()
        return int(bare) if bare else 3600 * int(hours or 0) + 60 * int(minutes) + int(seconds)


class PastDayMixin:
    """Refuse a day to come."""

    def clean_on_date(self) -> Any:
        """Return the day."""
        day = self.cleaned_data["on_date"]  # type: ignore[attr-defined]
        if day and day > clock.today():
            raise forms.ValidationError("This day lies in the future.")
        return day


class SubjectForm(forms.Form):
    """What is known of a subject."""

    kind = forms.ChoiceField(
        label="What it is",
        choices=SubjectKind.choices,
        error_messages={"required": "Say what it is."},
    )
    name = needed_line("Name", "the name", NAME_CHARS, "It needs a name.")
    parent = forms.ModelChoiceField(
        Subject.objects.none(),
        required=False,
        label="Belongs to",
        help_text="The maker of a product; the product, or the maker, of a batch.",
        empty_label="Nothing",
    )
    product_kind = forms.ChoiceField(
        label="A product is a",
        choices=[("", "Not a product"), *ProductKind.choices],
        required=False,
    )
    other_names = text_field(
        "Other names",
        "the other names",
        NAME_CHARS * MOST_NAMES,
        3,
        required=False,
        help_text="One on each line. Texts are searched for these too.",
    )
    contact_name = line_field(
        "Whom to ask for a reply", "the name", WHO_CHARS, help_text="A person or an office."
    )
    contact_email = forms.EmailField(
        required=False, label="Their e-mail address", widget=forms.TextInput(attrs={"dir": "ltr"})
    )
    contact_other = line_field(
        "Another way to reach them", "the way", LINE_CHARS, help_text="A form, a number, a street."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Offer what something can belong to."""
        kwargs.setdefault("auto_id", "subject-%s")
        super().__init__(*args, **kwargs)
        kinds = (SubjectKind.MAKER, SubjectKind.PRODUCT)
        possible = Subject.objects.filter(kind__in=kinds).select_related("parent__parent")
        self.fields["parent"].queryset = possible  # type: ignore[attr-defined]

    def clean_other_names(self) -> list[str]:
        """Return the names, refusing one that is too long, or too many."""
        names = [line.strip() for line in self.cleaned_data["other_names"].splitlines()]
        names = [name for name in names if fold(name)]
        if len(names) > MOST_NAMES:
            raise forms.ValidationError(f"Give {MOST_NAMES} names at most; these are {len(names)}.")
        if any(len(name) > NAME_CHARS for name in names):
            raise forms.ValidationError(f"A name has {NAME_CHARS} characters at most.")
        return names


class CaseForm(forms.Form):
    """The number of a case."""

    case = forms.IntegerField(
        label="Number of the case",
        min_value=1,
        max_value=2**53,
        widget=forms.TextInput(attrs={"class": "short", "inputmode": "numeric"}),
        error_messages={"required": "Give the number of a case.", "invalid": "Give a number."},
    )


class StatementForm(forms.Form):
    """What will be said, of whom."""

    subject = forms.ModelChoiceField(
        Subject.objects.none(),
        label="Of whom or what",
        error_messages={"required": "Say of whom it is said."},
    )
    text = needed_text("What will be said", "the statement", 5, "Write what will be said.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Offer every subject."""
        kwargs.setdefault("auto_id", "statement-%s")
        super().__init__(*args, **kwargs)
        every = Subject.objects.select_related("parent__parent")
        self.fields["subject"].queryset = every  # type: ignore[attr-defined]
        self.fields["text"].help_text = RULE_OF_ALL


class WordsForm(forms.Form):
    """The words of a statement with the version they were read at."""

    text = needed_text("What will be said", "the statement", 5, "Write what will be said.")
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=0)


class PictureForm(forms.Form):
    """A photo and what it shows."""

    photo = forms.ModelChoiceField(
        Photo.objects.none(), error_messages={"required": "Choose a photo."}, empty_label=None
    )
    shows = needed_line(
        "What it shows", "what it shows", LINE_CHARS, "Say in a word what the picture shows."
    )

    def __init__(self, *args: Any, photos: Iterable[Photo], **kwargs: Any) -> None:
        """Offer the photos that can be evidence."""
        kwargs.setdefault("auto_id", "picture-%s")
        super().__init__(*args, **kwargs)
        among = Photo.objects.filter(pk__in=[photo.pk for photo in photos])
        self.fields["photo"].queryset = among  # type: ignore[attr-defined]


class AskForm(PastDayMixin, forms.Form):
    """How a subject is or was asked for a reply."""

    way = forms.ChoiceField(label="How", choices=Way.choices)
    to = needed_line("To whom", "whom", LINE_CHARS, "Say who was asked, or give the address.")
    text = needed_text(
        "The letter, or what was said", "the letter", 12, "Write the letter.", limit=LETTER_CHARS
    )
    on_date = day_field("When", required=False, help_text="A letter from this desk goes today.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Name the controls after the form."""
        kwargs.setdefault("auto_id", "ask-%s")
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        """Refuse a letter without an address it can go to."""
        data = super().clean() or {}
        if data.get("way") == Way.MAIL and data.get("to"):
            try:
                forms.EmailField().clean(data["to"])
            except forms.ValidationError:
                self.add_error("to", "A letter from this desk needs an e-mail address.")
        return data


class ReplyForm(PastDayMixin, forms.Form):
    """What a subject replied."""

    text = needed_text("Their words", "the reply", 5, "Write down what they replied.")
    who = needed_line("Who replied", "who replied", WHO_CHARS, "Say who replied.")
    on_date = day_field("When")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Name the controls after the form."""
        kwargs.setdefault("auto_id", "reply-%s")
        super().__init__(*args, **kwargs)


class RemarkForm(PastDayMixin, forms.Form):
    """A standing correction or reply."""

    subject = forms.ModelChoiceField(
        Subject.objects.none(),
        label="On whom or what",
        error_messages={"required": "Say whom it is about."},
    )
    kind = forms.ChoiceField(label="What it is", choices=RemarkKind.choices)
    said = text_field(
        "What was said",
        "what was said",
        TEXT_CHARS,
        3,
        required=False,
        help_text="Needed for a correction.",
    )
    text = needed_text("What is right, or their words", "the words", 4, "Write what is right.")
    who = needed_line("Who asked for it, or who replied", "who", WHO_CHARS, "Say who asked.")
    on_date = day_field("When")
    episode_number = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=LARGEST_NUMBER,
        label="Aired in episode",
        widget=forms.TextInput(attrs={"class": "short", "inputmode": "numeric"}),
        error_messages={"invalid": "Give the number of the episode."},
    )
    second = SecondField(
        required=False,
        label="At",
        help_text="A place of the recording, such as 30:05.",
        widget=forms.TextInput(attrs={"class": "short"}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Offer every subject."""
        kwargs.setdefault("auto_id", "remark-%s")
        super().__init__(*args, **kwargs)
        every = Subject.objects.select_related("parent__parent")
        self.fields["subject"].queryset = every  # type: ignore[attr-defined]


class NoticeForm(forms.Form):
    """What a notice says, with the version it was read at."""

    title = needed_line("Title", "the title", TITLE_CHARS, "The notice needs a title.")
    fault = forms.ChoiceField(
        label="The fault that was found", error_messages={"required": "Choose the fault."}
    )
    caution = text_field(
        "What to do at once",
        "the caution",
        TEXT_CHARS,
        3,
        required=False,
        help_text="Only where it is dangerous; it stands first. Name who to call.",
    )
    text = needed_text("What was found", "what was found", 6, "Write what was found.")
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=0, initial=0)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Offer every fault the knowledge has."""
        kwargs.setdefault("auto_id", "notice-%s")
        super().__init__(*args, **kwargs)
        choices = [("", "Choose a fault"), *((info.id, info.name) for info in list_faults())]
        self.fields["fault"].choices = choices  # type: ignore[attr-defined]
        self.fields["text"].help_text = RULE_OF_ALL
