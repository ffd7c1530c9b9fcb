"""Reading what the public form and the tracking page show."""

import datetime
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from helpdesk.answers.models import Answer
from helpdesk.answers.selectors import list_sent_answers
from helpdesk.cases.models import Case, CaseState, Message, MessageKind, Outcome, Report
from helpdesk.cases.selectors import list_conversation
from helpdesk.diagnosis.selectors import get_view
from helpdesk.photos.models import Photo
from helpdesk.photos.selectors import list_photos, list_refused

SUGGESTIONS = 40
RECENT_CASES = 400
# One person's own words must not be shown to everybody, so two cases have to share a suggestion.
LEAST_CASES = 2
MATERIALS = ("PLA", "PETG", "ABS", "ASA", "TPU", "PA (nylon)", "PC", "PVB", "Resin")
# Shown in the conversation; answers have a place of their own.
SPOKEN = (MessageKind.QUESTION, MessageKind.REPLY, MessageKind.FOLLOW_UP)
ORDER = (CaseState.RECEIVED, CaseState.ASKED, CaseState.ANSWERED, CaseState.CLOSED)
DANGER_REST = (
    "Leave the printer off and unplugged until somebody competent has looked at it. "
    "Do not open anything that is connected to the mains yourself."
)


@dataclass(frozen=True)
class Layer:
    """One of the four layers that say where a print is."""

    name: str
    at: datetime.datetime | None
    words: str
    is_done: bool
    is_current: bool


@dataclass(frozen=True)
class OpenQuestions:
    """What the desk asked last and was not answered yet."""

    message: Message
    questions: Sequence[dict[str, Any]]  # as stored; `chosen` is added for a form shown again


@dataclass(frozen=True)
class Danger:
    """A caution that stands first on the page."""

    name: str
    say: str


@dataclass(frozen=True)
class TrackingView:
    """Everything the tracking page shows of a case."""

    case: Case
    layers: Sequence[Layer]
    dangers: Sequence[Danger]
    asked: OpenQuestions | None
    answers: Sequence[Answer]
    conversation: Sequence[Message]
    photos: Sequence[Photo]
    refused_photos: Sequence[Photo]
    reports: Sequence[Report]
    outcomes: Sequence[Outcome]

    @property
    def may_tell_outcome(self) -> bool:
        """Return True once there is an answer whose outcome can be told."""
        return bool(self.answers)


def list_suggestions(field: str) -> list[str]:
    """Return the words several recent cases share in a free-text fact, commonest first."""
    recent = Case.objects.exclude(**{field: ""}).order_by("-pk").values_list(field, flat=True)
    counted = Counter(recent[:RECENT_CASES])
    shared = [word for word, count in counted.most_common() if count >= LEAST_CASES]
    return shared[:SUGGESTIONS]


def list_material_suggestions() -> list[str]:
    """Return the usual materials and those several cases share."""
    return list(dict.fromkeys([*MATERIALS, *list_suggestions("material")]))


def get_tracking(case: Case) -> TrackingView:
    """Return what the tracking page shows; changes nothing."""
    messages = list(list_conversation(case))
    answers = list(list_sent_answers(case))
    return TrackingView(
        case=case,
        layers=_list_layers(case, messages, answers),
        dangers=list_dangers(case),
        asked=find_open_questions(messages) if case.state == CaseState.ASKED else None,
        answers=answers,
        conversation=[message for message in messages if message.kind in SPOKEN],
        photos=list_photos(case),
        refused_photos=list_refused(case),
        reports=list(case.reports.all()),
        outcomes=list(case.outcomes.all()),
    )


def list_dangers(case: Case) -> list[Danger]:
    """Return the cautions of the dangers the desk sees in a case."""
    if not case.danger_name:
        return []
    view = get_view(case)
    seen = [Danger(name=danger.name, say=danger.say) for danger in view.dangers] if view else []
    return seen or [Danger(name=case.danger_name, say=DANGER_REST)]


def find_open_questions(messages: Sequence[Message]) -> OpenQuestions | None:
    """Return the questions asked after the person's latest reply, or None."""
    for message in reversed(messages):
        if message.kind == MessageKind.REPLY:
            return None
        if message.kind == MessageKind.QUESTION:
            open_ones = [
                dict(question)
                for question in message.questions
                if question.get("finding") and not question.get("reply")
            ]
            return OpenQuestions(message=message, questions=open_ones)
    return None


def _list_layers(case: Case, messages: Sequence[Message], answers: Sequence[Answer]) -> list[Layer]:
    """Return the four layers with the moment each was laid, or what is promised."""
    asked = [message.sent_at for message in messages if message.kind == MessageKind.QUESTION]
    answered = [answer.sent_at for answer in answers if answer.sent_at]
    place = ORDER.index(CaseState(case.state))
    laid = {
        CaseState.RECEIVED: case.opened_at,
        CaseState.ASKED: asked[-1] if asked else None,
        CaseState.ANSWERED: answered[-1] if answered else None,
        CaseState.CLOSED: case.closed_at,
    }
    turns = {
        CaseState.RECEIVED: "our turn",
        CaseState.ASKED: "your turn",
        CaseState.ANSWERED: "your turn",
    }
    promises = {
        CaseState.ASKED: "only if something is unclear",
        CaseState.ANSWERED: "usually within three days",
        CaseState.CLOSED: "when you say how it went",
    }
    layers = []
    for index, state in enumerate(ORDER):
        is_current = index == place
        turn = f": {turns[state]}" if is_current and state in turns else ""
        layers.append(
            Layer(
                name=f"{state.label}{turn}",
                at=laid[state],
                words="" if laid[state] else promises.get(state, ""),
                is_done=laid[state] is not None and not is_current,
                is_current=is_current,
            )
        )
    return layers
