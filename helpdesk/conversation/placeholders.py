"""What stands in braces in a recurring text, and what it becomes for a case."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from django.conf import settings

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case

_BRACES = re.compile(r"\{([^{}\n]*)\}")
_LONE = re.compile(r"[{}]")
# The address itself stands in every letter and in every text to copy; it is made when they go, and
# kept nowhere, so a box that is saved and shown cannot hold it.
PAGE_WORDS = "your private page"


@dataclass(frozen=True)
class Filling:
    """What the placeholders are filled from."""

    case: Case
    reviewer: User


@dataclass(frozen=True)
class Placeholder:
    """A name in braces: what it says, what it looks like, and how it is filled."""

    meaning: str
    example: str
    fill: Callable[[Filling], str]


PLACEHOLDERS: Mapping[str, Placeholder] = {
    "first_name": Placeholder(
        "the person’s first name, their handle, or “there”",
        "Bettine",
        lambda f: next(iter(f.case.person_name.split()), "") or f.case.handle or "there",
    ),
    "case": Placeholder("the number of the case", "417", lambda f: str(f.case.pk)),
    "title": Placeholder(
        "the title of the case", "Box with lifted corners", lambda f: f.case.title
    ),
    "machine": Placeholder(
        "the printer, or “your printer”", "Tern 220", lambda f: f.case.machine or "your printer"
    ),
    "material": Placeholder(
        "the material, or “your material”", "PETG", lambda f: f.case.material or "your material"
    ),
    "private_link": Placeholder(
        "“your private page”; its address stands in every letter",
        PAGE_WORDS,
        lambda f: PAGE_WORDS,
    ),
    "reviewer": Placeholder("who writes", "Imke", lambda f: f.reviewer.short_name),
    "desk": Placeholder(
        "what the desk calls itself", "Marrow Lane Makers’ Room", lambda f: settings.DESK_NAME
    ),
    "show": Placeholder("the name of the show", "The Salvage Hour", lambda f: settings.SHOW_NAME),
}


def find_faults(body: str) -> list[str]:
    """Return what is wrong with the placeholders of a text, as sentences."""
    known = ", ".join(f"{{{name}}}" for name in PLACEHOLDERS)
    faults = [
        f"{{{name}}} is no placeholder. These are known: {known}."
        for name in dict.fromkeys(_BRACES.findall(body))
        if name not in PLACEHOLDERS
    ]
    if _LONE.search(_BRACES.sub("", body)):
        faults.append("A brace stands alone. Placeholders are written like {first_name}.")
    return faults


def fill(body: str, filling: Filling) -> str:
    """Return a text with its placeholders filled for a case, in one pass.

    What a person wrote into a name is never read for placeholders again.
    """
    return _BRACES.sub(lambda found: PLACEHOLDERS[found[1]].fill(filling), body)


def fill_example(body: str) -> str:
    """Return a text as it reads for an invented case; what is unknown stays as it is."""

    def show(found: re.Match[str]) -> str:
        known = PLACEHOLDERS.get(found[1])
        return known.example if known else found[0]

    return _BRACES.sub(show, body)
