"""The words people agreed to, by version, as they stood on the form.

A version is never changed once somebody may have read it: new words are a new version. Which one a
person saw stands in their ConsentRecord.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from django.conf import settings


@dataclass(frozen=True)
class Wording:
    """What the form asked, use by use; `{show}` is the name of the show."""

    answer: str
    photos: str
    name: str
    guardian: str

    def asked(self, use: str) -> str:
        """Return the words asked about a use, with the show's name in them."""
        return str(getattr(self, use)).replace("{show}", settings.SHOW_NAME)


WORDINGS: Mapping[str, Wording] = {
    "2026-11": Wording(
        answer="You may publish your answer, without my name",
        photos="You may show my photos on {show} and beside the published answer",
        name="How may we name you?",
        guardian="I am a parent or guardian of the person and I agree to what is ticked above",
    ),
}


def find_wording(version: str) -> Wording | None:
    """Return the words of a version, or None where it was told to somebody instead."""
    return WORDINGS.get(version)
