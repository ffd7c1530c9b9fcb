"""Correcting what the desk read in somebody's words. Permission: review cases."""

from typing import Any

from django.core.exceptions import BadRequest
from django.http import HttpResponseBase
from django.views.decorators.http import require_POST

from helpdesk.cases.models import Case
from helpdesk.core.errors import RefusedInputError
from helpdesk.core.http import HtmxRequest
from helpdesk.diagnosis import engine, services
from helpdesk.diagnosis.models import FindingState
from helpdesk.review.views.common import get_case, reviewers_only, user_of
from helpdesk.review.views.weigh import find_named, not_known, show_done, show_refusal

PART = "case-readings"
RIGHT, WRONG, NOTHING = "right", "wrong", "nothing"
EVENTS = ("reading", "finding")


@require_POST
@reviewers_only
def correct_reading(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Say that something was misread, or was read rightly after all, with one press."""
    case = get_case(number)
    say = request.POST.get("say", "")
    if say not in (RIGHT, WRONG):
        raise BadRequest("Words were read rightly or wrongly.")
    kind, name = request.POST.get("kind", ""), request.POST.get("name", "")
    actor = user_of(request)
    try:
        services.correct_reading(case, kind, name, is_right=say == RIGHT, actor=actor)
    except RefusedInputError as error:
        return show_refusal(request, case, status=409, reading_refusal=str(error))
    return show_done(request, number, _last_said(case), part=PART)


@require_POST
@reviewers_only
def note_words(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Note a finding in words the desk passed over, or take such a note back."""
    case = get_case(number)
    say = request.POST.get("say", "")
    if say not in (FindingState.PRESENT, FindingState.ABSENT, NOTHING):
        raise BadRequest("Words say that a finding is present or absent.")
    words, typed = request.POST.get("noted", ""), request.POST.get("finding", "").strip()
    known = engine.list_findings()
    found = find_named(known, typed)
    refused: dict[str, Any] = {"note_words": words, "note_finding": typed}
    if found is None:
        refusal = not_known(known, typed, "finding")
        return show_refusal(request, case, note_refusal=refusal, **refused)
    actor = user_of(request)
    try:
        if say == NOTHING:
            services.take_back_note(case, found.id, actor=actor)
        else:
            services.note_reading(case, found.id, say, words=words, actor=actor)
    except RefusedInputError as error:
        return show_refusal(request, case, note_refusal=str(error), **refused)
    return show_done(request, number, _last_said(case), part=PART)


def _last_said(case: Case) -> str:
    """Return what the latest correction was and what it moved, as sentences."""
    event = case.events.filter(kind__in=EVENTS).order_by("-at", "-pk").first()
    return f"{event.what}. {event.why}".strip() if event else ""
