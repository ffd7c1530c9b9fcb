"""Reading answers: the panel of a case and the public library."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import OuterRef, Q, QuerySet, Subquery

from helpdesk.answers.models import Answer
from helpdesk.cases.models import (
    NOT_KNOWN,
    SOMETHING_ELSE,
    Appearance,
    Case,
    Outcome,
    OutcomeResult,
)
from helpdesk.diagnosis.engine import ActionInfo, action_info
from helpdesk.diagnosis.errors import UnknownThingError
from helpdesk.diagnosis.selectors import list_verdicts
from helpdesk.outbox.deliveries import is_carried
from helpdesk.photos.models import Photo, PhotoState

SAFETY = "safety"  # kind of an action that keeps people whole and cures nothing
STEP_WORDS = {SOMETHING_ELSE: "something else", NOT_KNOWN: "not known which step"}
_PIECE_MARK = re.compile(r"\(\d+/\d+\) ")
MOST_WORDS = 12
FILTER_LIMIT = 40


@dataclass(frozen=True)
class AnswerPanel:
    """What the answer panel of a case shows, whoever looks."""

    draft: Answer | None
    sent: Sequence[Answer]
    verdict_names: Sequence[str]
    can_mail: bool
    prefers_mail: bool
    is_carried: bool  # a program passes on what is sent, so nobody copies it

    @property
    def latest(self) -> Answer | None:
        """Return the answer sent last."""
        return self.sent[-1] if self.sent else None


@dataclass(frozen=True)
class LibraryFilter:
    """What a visitor looks for."""

    words: str = ""
    material: str = ""
    outcome: str = ""


@dataclass(frozen=True)
class ShownPhoto:
    """A photo as it may be shown in public."""

    photo: Photo
    alt: str


@dataclass(frozen=True)
class ShownAnswer:
    """A published answer with what stands beside it."""

    answer: Answer
    outcome: str
    photos: Sequence[ShownPhoto]
    appearances: Sequence[Appearance]

    @property
    def cover(self) -> ShownPhoto | None:
        """Return the first photo."""
        return self.photos[0] if self.photos else None


def get_panel(case: Case) -> AnswerPanel:
    """Return what the answer panel of a case shows."""
    answers = list(case.answers.select_related("sent_by", "edited_by").order_by("pk"))
    drafts = [answer for answer in answers if answer.sent_at is None]
    return AnswerPanel(
        draft=drafts[0] if drafts else None,
        sent=[answer for answer in answers if answer.sent_at],
        verdict_names=[verdict.fault_name for verdict in list_verdicts(case)],
        can_mail=bool(case.email),
        prefers_mail=bool(case.email) and case.reply_channel == "mail",
        is_carried=is_carried(case),
    )


def get_answer(case: Case, answer_id: int) -> Answer:
    """Return one answer of a case; raises Answer.DoesNotExist for another case's."""
    return case.answers.select_related("case", "sent_by", "edited_by").get(pk=answer_id)


def list_sent_answers(case: Case) -> QuerySet[Answer]:
    """Return the answers that went out, oldest first."""
    return case.answers.filter(sent_at__isnull=False).select_related("sent_by").order_by("sent_at")


def list_sent_steps(answers: Sequence[Answer]) -> list[ActionInfo]:
    """Return the checks and remedies that sent answers advise, those of the latest answer first.

    A step counts when its name stands in what was sent: a reviewer may have taken it out. Where
    none does, all steps were said in other words and count.
    """
    steps: dict[str, ActionInfo] = {}
    for answer in reversed(answers):
        known = [info for name in answer.actions if (info := _find_action(name))]
        doing = [info for info in known if info.kind != SAFETY]
        said = " ".join(_PIECE_MARK.sub("", answer.sent_text).split())
        named = [info for info in doing if " ".join(info.name.rstrip(".").split()) in said]
        for info in named or doing:
            steps.setdefault(info.id, info)
    return list(steps.values())


def _find_action(name: str) -> ActionInfo | None:
    """Return an action, or None when the knowledge has it no more."""
    try:
        return action_info(name)
    except UnknownThingError:
        return None


def name_step(remedy: str) -> str:
    """Return what did it, as an outcome keeps it, in words; "" where nothing was said."""
    if remedy in ("", *STEP_WORDS):
        return STEP_WORDS.get(remedy, "")
    info = _find_action(remedy)
    return info.name if info else remedy


def list_public_answers() -> QuerySet[Answer]:
    """Return the published answers whose person still agrees; asked anew at every reading."""
    is_grown_or_guarded = Q(case__is_under_16=False) | Q(case__guardian_agreed=True)
    return Answer.objects.filter(
        is_grown_or_guarded,
        published_at__isnull=False,
        case__may_publish_answer=True,
        case__erased_at__isnull=True,
    ).select_related("case")


def find_public_answers(wanted: LibraryFilter) -> QuerySet[Answer]:
    """Return the public answers that hold all the words and fit the filters."""
    found = list_public_answers()
    for word in wanted.words.split()[:MOST_WORDS]:
        found = found.filter(
            Q(published_title__icontains=word)
            | Q(published_body__icontains=word)
            | Q(case__machine__icontains=word)
            | Q(case__material__icontains=word)
        )
    if wanted.material:
        found = found.filter(case__material=wanted.material)
    if wanted.outcome:
        latest = Outcome.objects.filter(case=OuterRef("case")).order_by("-said_at", "-pk")
        found = found.annotate(latest_outcome=Subquery(latest.values("result")[:1])).filter(
            latest_outcome=wanted.outcome
        )
    return found


def list_public_materials() -> list[str]:
    """Return the materials that occur in the library, in alphabetical order."""
    # From the few answers shown, not from every case there is.
    return list(
        list_public_answers()
        .exclude(case__material="")
        .order_by("case__material")
        .values_list("case__material", flat=True)
        .distinct()[:FILTER_LIMIT]
    )


def show_answers(answers: Sequence[Answer]) -> list[ShownAnswer]:
    """Return published answers with outcome, photos and appearances, in three queries."""
    case_ids = [answer.case_id for answer in answers]
    outcomes = {
        outcome.case_id: OutcomeResult(outcome.result).label
        for outcome in Outcome.objects.filter(case__in=case_ids).order_by("said_at", "pk")
    }
    appearances: dict[int, list[Appearance]] = {}
    for appearance in Appearance.objects.filter(case__in=case_ids).order_by("episode_number"):
        appearances.setdefault(appearance.case_id, []).append(appearance)
    photos = Photo.objects.in_bulk(
        [row["photo"] for a in answers if a.case.may_show_in_public for row in a.published_photos]
    )
    return [
        ShownAnswer(
            answer=answer,
            outcome=outcomes.get(answer.case_id, ""),
            photos=_shown_photos(answer, photos),
            appearances=appearances.get(answer.case_id, ()),
        )
        for answer in answers
    ]


def find_public_photo(answer_id: int, photo_id: int) -> Photo | None:
    """Return a photo of a public answer, or None unless it may be shown at this moment."""
    answer = list_public_answers().filter(pk=answer_id).first()
    if answer is None or not answer.case.may_show_in_public:
        return None
    shown = _shown_photos(answer, Photo.objects.in_bulk([photo_id]))
    return shown[0].photo if shown else None


def _shown_photos(answer: Answer, photos: dict[int, Photo]) -> list[ShownPhoto]:
    """Return the chosen photos that exist, belong to the case and are ready."""
    if not answer.case.may_show_in_public:
        return []
    return [
        ShownPhoto(photos[row["photo"]], row["alt"])
        for row in answer.published_photos
        if row["photo"] in photos
        and photos[row["photo"]].case_id == answer.case_id
        and photos[row["photo"]].state == PhotoState.READY
    ]
