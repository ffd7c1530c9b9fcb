"""The cases a reviewer has to ask by hand. Permissions: review cases."""

from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import BadRequest
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST
from django.views.decorators.vary import vary_on_headers

from helpdesk.accounts.models import User
from helpdesk.accounts.roles import REVIEW_CASES
from helpdesk.cases.models import Case, OutcomeResult
from helpdesk.core.errors import WrongStateError
from helpdesk.core.http import HtmxRequest, announce, wants_fragment
from helpdesk.followup.selectors import describe_due, list_due_by_hand, list_mailable
from helpdesk.followup.services import enter_result, let_rest, mark_asked, write_question

MOST_SHOWN = 30


@require_GET
@permission_required(REVIEW_CASES, raise_exception=True)
@vary_on_headers("HX-Request")
def due(request: HtmxRequest) -> HttpResponse:
    """List the cases to be asked by a channel other than mail, with the words to use."""
    return _show(request)


@require_POST
@permission_required(REVIEW_CASES, raise_exception=True)
def asked(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Note that somebody was asked how it went, or that nobody shall ask."""
    case = get_object_or_404(Case, pk=number)
    user = cast(User, request.user)
    try:
        if "rest" in request.POST:
            let_rest(case.pk, user)
            words = f"Noted: case {case.pk} is left in peace."
        else:
            mark_asked(case.pk, user)
            words = f"Noted: case {case.pk} was asked how it went."
    except WrongStateError as error:
        words = str(error)
    return _go_on(request, words)


@require_POST
@permission_required(REVIEW_CASES, raise_exception=True)
def heard(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Keep with one press what somebody told the reviewer."""
    case = get_object_or_404(Case, pk=number)
    result = request.POST.get("result", "")
    if result not in OutcomeResult.values:
        raise BadRequest("No such result.")
    try:
        enter_result(case.pk, result=result, actor=cast(User, request.user))
        words = f"Kept for case {case.pk}: {OutcomeResult(result).label.lower()}."
    except WrongStateError as error:
        words = str(error)
    return _go_on(request, words)


def _go_on(request: HtmxRequest, words: str) -> HttpResponseBase:
    """Show what is left to do, and say what was done."""
    if wants_fragment(request):
        return announce(_show(request), words)
    messages.success(request, words)
    return redirect("followup:due")


def _show(request: HtmxRequest) -> HttpResponse:
    cases = list(list_due_by_hand()[: MOST_SHOWN + 1])
    context = {
        "rows": [
            (row, write_question(row.case, number=row.number))
            for row in describe_due(cases[:MOST_SHOWN])
        ],
        "has_more": len(cases) > MOST_SHOWN,
        "by_mail": len(list_mailable()),
        "results": OutcomeResult.choices,
        "tab": "queue",
    }
    name = "followup/_due_rows.html" if wants_fragment(request) else "followup/due.html"
    return render(request, name, context)
