"""What a channel hands over, and what became of it."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.core.files.base import File

from helpdesk.cases.models import Case, Message


@dataclass(frozen=True, kw_only=True)
class Attachment:
    """One file as it came: its name is a label only and its claimed type is not believed."""

    label: str
    file: "File[bytes]"
    alt_text: str = ""


@dataclass(frozen=True)
class Kept:
    """How many files were kept, and a sentence for each that was not."""

    photos: int = 0
    files: int = 0
    refusals: Sequence[str] = ()

    def __add__(self, other: "Kept") -> "Kept":
        return Kept(
            self.photos + other.photos,
            self.files + other.files,
            (*self.refusals, *other.refusals),
        )


@dataclass(frozen=True)
class TakenReport:
    """The case a report led to; `is_new` is False when this very report was there already."""

    case: Case
    is_new: bool
    kept: Kept = Kept()


@dataclass(frozen=True)
class TakenReply:
    """The message a reply became; `is_new` is False when this very reply was there already."""

    message: Message | None
    is_new: bool
    kept: Kept = Kept()
