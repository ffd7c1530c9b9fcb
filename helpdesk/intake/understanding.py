"""What the desk understands of a form that is being filled in, and what its writer says of it."""

import logging
from collections.abc import Sequence
from dataclasses import dataclass

from django.http import QueryDict

from helpdesk.answers.models import Answer
from helpdesk.diagnosis.engine import (
    Detail,
    FindingInfo,
    Preview,
    finding_info,
    preview_text,
)
from helpdesk.diagnosis.errors import UnknownThingError
from helpdesk.intake.forms import STORY_LIMIT
from helpdesk.intake.services import SEEN_FIELD, STATES, WriterSays
from helpdesk.search.selectors import find_public_similar

logger = logging.getLogger(__name__)
MOST_DETAILS = 3
MOST_SAID = 40  # what a form of ours can hold many times over


@dataclass(frozen=True)
class Question:
    """A detail with the answer chosen so far, "" for none."""

    finding: str
    question: str
    help: str
    chosen: str = ""


@dataclass(frozen=True)
class Understanding:
    """All the panel shows; `preview` is None where nothing could be looked at."""

    preview: Preview | None
    questions: Sequence[Question]
    withdrawn: Sequence[FindingInfo]
    similar: Sequence[Answer] = ()
    is_paused: bool = False

    @property
    def summary(self) -> str:
        """Return one sentence for who cannot see the panel change."""
        if self.preview is None:
            return ""
        if self.preview.language:
            return f"This seems to be written in {self.preview.language}."
        if self.preview.is_empty:
            return "We could not tell much from this yet."
        signs = len(self.preview.findings)
        said = f"Understood: {signs} sign{'' if signs == 1 else 's'}, shown beside your story."
        if self.preview.passages:
            said += f" A part seems to be in {' and '.join(self.preview.passages)}."
        return said


def take_says(data: QueryDict) -> WriterSays:
    """Return what a form says of findings; what the knowledge does not hold is passed over."""
    withdrawn = [*data.getlist("withdrawn"), *data.getlist("not_so")]
    kept = [name for name in dict.fromkeys(withdrawn) if name not in data.getlist("so")]
    said = {
        name.removeprefix(SEEN_FIELD): state
        for name, state in data.items()
        if name.startswith(SEEN_FIELD) and state in STATES
    }
    return WriterSays(
        said={name: state for name, state in list(said.items())[:MOST_SAID] if _is_known(name)},
        withdrawn=tuple(name for name in kept[:MOST_SAID] if _is_known(name) and name not in said),
    )


def understand(data: QueryDict) -> Understanding:
    """Return what is understood of a form; nothing of it is kept.

    A fault of the engine costs the panel, never the form.
    """
    says = take_says(data)
    text = data.get("story", "")[:STORY_LIMIT]
    try:
        preview = preview_text(
            text,
            process=_process(data.get("process", "")),
            material=data.get("material", "")[:80],
            machine=data.get("machine", "")[:80],
            tried=data.get("tried", "")[:5_000],
            said={
                name: state == "present" for name, state in says.said.items() if state != "unknown"
            },
            settled=[name for name, state in says.said.items() if state == "unknown"],
            withdrawn=says.withdrawn,
        )
        similar = [] if preview.is_empty else find_public_similar(text)
    except Exception:  # the form goes on without the panel
        logger.exception("A form could not be previewed")
        return _without_preview(says)
    return Understanding(
        preview=preview,
        questions=_questions(says, preview.details),
        withdrawn=[finding_info(name) for name in says.withdrawn],
        similar=similar,
    )


def paused(data: QueryDict) -> Understanding:
    """Return the panel of a visitor who asked too often: what they said, nothing read anew."""
    return _without_preview(take_says(data), is_paused=True)


def _without_preview(says: WriterSays, *, is_paused: bool = False) -> Understanding:
    return Understanding(
        preview=None,
        questions=_questions(says, ()),
        withdrawn=[finding_info(name) for name in says.withdrawn],
        is_paused=is_paused,
    )


def _questions(says: WriterSays, details: Sequence[Detail]) -> list[Question]:
    """Return what was answered, then what would help most, so that the list stays short."""
    found = []
    for name, state in says.said.items():
        info = finding_info(name)
        found.append(Question(name, info.question, info.help, state))
    open_ones = [Question(d.finding, d.question, d.help) for d in details]
    return found + open_ones[: max(0, MOST_DETAILS - len(found))]


def _process(value: str) -> str:
    """Return a process the engine knows, else ""."""
    return value if value in ("MEX", "VPP") else ""


def _is_known(name: str) -> bool:
    """Return True for a finding the knowledge has."""
    try:
        return bool(finding_info(name))
    except UnknownThingError:
        return False
