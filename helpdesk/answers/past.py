"""Answers that were given before the desk was there: kept for search, sent to nobody."""

import datetime

from django.db import transaction

from helpdesk.accounts.models import User
from helpdesk.answers.models import Answer
from helpdesk.cases.models import Case, CaseState, MessageKind
from helpdesk.cases.services import DESK, add_message, change_state, record_event
from helpdesk.core.jobs import start_job


@transaction.atomic
def keep_past_answer(
    case: Case, text: str, *, at: datetime.datetime, via: str, actor: User | None
) -> Answer:
    """Keep an answer as given at a moment in the past; no letter goes out and nobody is asked."""
    answer = Answer.objects.create(
        case=case,
        body=text,
        faults=list(case.verdicts.values_list("fault", flat=True)),
        edited_by=actor,
        edited_at=at,
        sent_at=at,
        sent_text=text,
        sent_via=via,
    )
    add_message(case, kind=MessageKind.ANSWER, body=text, author_name=DESK, channel=via, at=at)
    record_event(
        case,
        kind="answer",
        what="Answer given before it was brought in",
        actor=actor,
        at=at,
        data={"answer": answer.pk, "via": via},
    )
    if case.state in (CaseState.RECEIVED, CaseState.ASKED):
        change_state(case, CaseState.ANSWERED, actor=actor, at=at)
    start_job(
        "index-case", key=f"index-case:{case.pk}:answer:{answer.pk}", payload={"case": case.pk}
    )
    return answer
