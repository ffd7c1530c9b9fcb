"""Settled cases for the tests of learning."""

from collections.abc import Sequence
from typing import Any

from helpdesk.accounts.models import User
from helpdesk.answers.models import Answer
from helpdesk.cases.models import Case, CaseState
from helpdesk.cases.services import change_state, record_outcome
from helpdesk.core import clock
from helpdesk.diagnosis.engine import LessonInput, action_info
from helpdesk.diagnosis.services import diagnose_case, mark_finding, set_verdict
from helpdesk.learning.lessons import list_lessons
from tests.factories import make_case

# Faults that the story of `make_case` does not put first, with remedies for each.
WARP, OTHER_FAULT = "shrinkage-warp", "pulley-loose"
WASH, BRIM, TIGHTEN = "wash-the-plate", "add-a-brim", "tighten-pulley-screw"
STORY = "I heard a knocking while it printed, then the top was shifted."


def judged(reviewer: User, *, fault: str = WARP, **fields: Any) -> Case:
    """Return a case the desk has looked at and a reviewer has judged."""
    case = make_case(**({"story": STORY} | fields))
    diagnose_case(case.pk, cause="report received")
    set_verdict(case, [fault], actor=reviewer)
    case.refresh_from_db()
    return case


def answer(case: Case, *actions: str, faults: Sequence[str] = ()) -> Answer:
    """Let the desk advise some actions."""
    now = clock.now()
    text = " ".join(f"{action_info(name).name}." for name in actions)
    change_state(case, CaseState.ANSWERED)
    return Answer.objects.create(
        case=case,
        body=text,
        faults=list(faults),
        actions=list(actions),
        edited_at=now,
        sent_at=now,
        sent_text=text,
        sent_via="chat",
    )


def settled(reviewer: User, count: int = 1) -> list[Case]:
    """Return cases in which warp was judged, looked for and cured by a brim."""
    cases = []
    for _ in range(count):
        case = judged(reviewer)
        mark_finding(case, "corners-lifted", "present", actor=reviewer)
        mark_finding(case, "part-came-loose", "absent", actor=reviewer)
        answer(case, BRIM, faults=[WARP])
        record_outcome(case, result="worked", remedy=BRIM)
        cases.append(case)
    return cases


def only_lesson() -> LessonInput:
    """Return the one lesson there is."""
    (lesson,) = list_lessons()
    return lesson
