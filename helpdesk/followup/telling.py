"""The page behind a link of a letter: tell one outcome with one press. Open to whoever has it."""

from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from helpdesk.answers.forms import OTHER_STEPS
from helpdesk.answers.selectors import list_sent_answers, list_sent_steps
from helpdesk.cases.models import Case, Outcome
from helpdesk.cases.outcomes import HELPED, name_step, tap_outcome
from helpdesk.core import limits
from helpdesk.core.errors import WrongStateError
from helpdesk.followup.links import ANY, SAYINGS, Tap, make_token, read_token


@csrf_exempt  # the signed address is the proof; no other site knows it
@require_http_methods(["GET", "HEAD", "POST"])
@login_not_required
def tell(request: HttpRequest, token: str) -> HttpResponseBase:
    """Show what would be told; a POST tells it, or names the step that did it.

    Opening the page changes nothing, for programs open every link of a letter.
    """
    tap = read_token(token)
    case = Case.objects.filter(pk=tap.case_id, erased_at__isnull=True).first() if tap else None
    if tap is None or case is None:
        raise Http404("No such page.")
    if request.method == "POST":
        response = _keep(request, case, tap, token)
    else:
        response = _show(request, case, tap)
    response.headers["Referrer-Policy"] = "no-referrer"
    return response


def _keep(request: HttpRequest, case: Case, tap: Tap, token: str) -> HttpResponseBase:
    """Keep what was pressed and come back to the page."""
    if not limits.spend(limits.REPLIES, f"outcome:{case.pk}"):
        return render(request, "429.html", status=429)
    remedy, result = request.POST.get("remedy", ""), request.POST.get("result", "")
    try:
        if remedy in dict(_list_steps(case)):
            name_step(case.pk, remedy=remedy)
        elif result in SAYINGS and tap.result in (ANY, result):
            tap_outcome(case.pk, result=result)
        else:
            return _show(request, case, tap, status=422)
    except WrongStateError:  # something else was told meanwhile, in another window
        return _show(request, case, tap, status=409)
    return redirect("followup:tell", token)


def _show(request: HttpRequest, case: Case, tap: Tap, *, status: int = 200) -> HttpResponse:
    last = _find_last(case)
    told = last if last and tap.result in (ANY, last.result) else None
    needs_step = told is not None and told.result in HELPED and not told.remedy
    context: dict[str, Any] = {
        "case": case,
        "last": last,
        "told": told,
        "last_words": SAYINGS[last.result] if last else "",
        "steps": _list_steps(case) if needs_step else [],
        "offered": [] if told and tap.result != ANY else _list_offered(tap),
        "is_any": tap.result == ANY,
        "any_token": make_token(case.pk, ANY),
    }
    return render(request, "followup/tell.html", context, status=status)


def _find_last(case: Case) -> Outcome | None:
    """Return what was told last of the answer the person has now, or None."""
    answer = list_sent_answers(case).last()
    told = case.outcomes.order_by("said_at", "pk").last()
    if told and answer and answer.sent_at and told.said_at < answer.sent_at:
        return None
    return told


def _list_offered(tap: Tap) -> list[tuple[str, str]]:
    """Return the results a link may tell, with their words."""
    return [(name, words) for name, words in SAYINGS.items() if tap.result in (ANY, name)]


def _list_steps(case: Case) -> list[tuple[str, str]]:
    """Return the steps of the answers with their names, and what may be said instead."""
    steps = list_sent_steps(list(list_sent_answers(case)))
    return [*((step.id, step.name) for step in steps), *OTHER_STEPS]
