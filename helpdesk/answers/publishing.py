"""Show an answer in the public library, and take it back."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction

from helpdesk.accounts.models import User
from helpdesk.answers.errors import NotPublishableError
from helpdesk.answers.letters import normalise, split_body
from helpdesk.answers.models import Answer
from helpdesk.cases.models import Case
from helpdesk.cases.services import record_event
from helpdesk.core import clock
from helpdesk.core.jobs import start_job

SHORTEST_NAME = 3  # letters: shorter parts of a name are found in ordinary words
_WORD = re.compile(r"[^\W_]+(?:['’-][^\W_]+)*")
_ADDRESS = re.compile(r"[^\s@<>()]+@[^\s@<>()]+\.\w+")
_HANDLE = re.compile(r"(?<![\w@])@\w[\w.-]+")


@dataclass(frozen=True)
class PublishedPhoto:
    """A photo to show and the description it is shown with."""

    photo_id: int
    alt: str


@dataclass(frozen=True, kw_only=True)
class Publication:
    """What a reviewer wants to show; the two statements are theirs to make."""

    title: str
    body: str
    photos: Sequence[PublishedPhoto] = ()
    has_looked_for_names: bool = False
    has_looked_at_photos: bool = False
    words_are_no_names: bool = False


def suggest_body(answer: Answer) -> str:
    """Return an answer's text without greeting and thanks, as a start for the public one."""
    return "\n\n".join(p.text for p in split_body(answer.body) if p.section)


def find_names(text: str, case: Case) -> list[str]:
    """Return what in a text may tell who a person is: their names, any address, any handle."""
    known = {
        part
        for name in (case.person_name, case.owner_name, case.credit_as, case.handle)
        for part in _WORD.findall(name)
        if len(part) >= SHORTEST_NAME
    }
    known_words = {part.casefold() for part in known}
    found = [
        word
        for word in _WORD.findall(text)
        # Names are written with a capital; "may" and "rose" in a sentence are not names.
        if word.casefold().removesuffix("’s").removesuffix("'s") in known_words
        and (word[0].isupper() or word in known)
    ]
    return list(dict.fromkeys([*_ADDRESS.findall(text), *_HANDLE.findall(text), *found]))


@transaction.atomic
def publish_answer(answer_id: int, publication: Publication, actor: User) -> Answer:
    """Show a sent answer in the library.

    Raises NotPublishableError, with the reason in words, when the person has not agreed, when a
    name may stand in it, or when a photo has no description.
    """
    answer = Answer.objects.select_related("case").select_for_update(of=("self",)).get(pk=answer_id)
    _check(answer, publication)
    is_first = answer.published_at is None
    answer.published_title = " ".join(publication.title.split())
    answer.published_body = normalise(publication.body)
    answer.published_photos = [
        {"photo": photo.photo_id, "alt": photo.alt.strip()} for photo in publication.photos
    ]
    answer.published_at = answer.published_at or clock.now()
    answer.save(
        update_fields=["published_title", "published_body", "published_photos", "published_at"]
    )
    what = "Answer published" if is_first else "Published answer changed"
    _note(answer, what, actor)
    return answer


@transaction.atomic
def unpublish_answer(answer_id: int, actor: User | None = None, *, why: str = "") -> Answer:
    """Take an answer out of the library; what was written for it stays as a start."""
    answer = Answer.objects.select_related("case").get(pk=answer_id)
    if answer.published_at is None:
        return answer
    answer.published_at = None
    answer.save(update_fields=["published_at"])
    _note(answer, "Answer taken out of the library", actor, why=why)
    return answer


def _note(answer: Answer, what: str, actor: User | None, *, why: str = "") -> None:
    event = record_event(
        answer.case, kind="publish", what=what, actor=actor, why=why, data={"answer": answer.pk}
    )
    start_job(
        "index-case",
        key=f"index-case:{answer.case_id}:publish:{event.pk}",
        payload={"case": answer.case_id},
    )


def _check(answer: Answer, publication: Publication) -> None:
    """Refuse with the first reason that stands in the way."""
    case = answer.case
    if answer.sent_at is None:
        raise NotPublishableError("The answer has not been sent to the person yet.")
    if not case.may_answer_in_public:
        raise NotPublishableError("The person has not agreed that the answer may be shown.")
    if not publication.title.strip() or not publication.body.strip():
        raise NotPublishableError("A published answer needs a title and a text.")
    if not publication.has_looked_for_names:
        raise NotPublishableError("Please say that you have looked for names.")
    everything = [publication.title, publication.body, *(p.alt for p in publication.photos)]
    names = find_names("\n".join(everything), case)
    if names and not publication.words_are_no_names:
        raise NotPublishableError(f"This may be a name or an address: {', '.join(names)}.")
    if not publication.photos:
        return
    if not case.may_show_in_public:
        raise NotPublishableError("The person has not agreed that photos may be shown.")
    if not publication.has_looked_at_photos:
        raise NotPublishableError(
            "Please say that you have looked at each photo for faces, addresses and screens."
        )
    if not all(photo.alt.strip() for photo in publication.photos):
        raise NotPublishableError("Every photo shown needs a description of what it shows.")
    own = set(case.photos.values_list("pk", flat=True))
    if not {photo.photo_id for photo in publication.photos} <= own:
        raise NotPublishableError("One of the photos does not belong to this case.")
