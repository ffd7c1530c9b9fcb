"""The cases a reviewer has to ask by hand. Permissions: review cases."""

from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST
from django.views.decorators.vary import vary_on_headers

from helpdesk.accounts.models import User
from helpdesk.accounts.roles import REVIEW_CASES
from helpdesk.cases.models import Case
from helpdesk.core.errors import WrongStateError
from helpdesk.core.http import HtmxRequest, announce, wants_fragment
from helpdesk.followup.selectors import list_due_by_hand, list_due_by_mail
from helpdesk.followup.services import mark_asked, write_question

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
    """Note that somebody was asked how it went."""
    case = get_object_or_404(Case, pk=number)
    try:
        mark_asked(case.pk, cast(User, request.user))
        words = f"Noted: case {case.pk} was asked how it went."
    except WrongStateError as error:
        words = str(error)
    if wants_fragment(request):
        return announce(_show(request), words)
    messages.success(request, words)
    return redirect("followup:due")


def _show(request: HtmxRequest) -> HttpResponse:
    cases = list(list_due_by_hand()[: MOST_SHOWN + 1])
    context = {
        "rows": [(case, write_question(case)) for case in cases[:MOST_SHOWN]],
        "has_more": len(cases) > MOST_SHOWN,
        "by_mail": list_due_by_mail().count(),
        "tab": "queue",
    }
    name = "followup/_due_rows.html" if wants_fragment(request) else "followup/due.html"
    return render(request, name, context)
