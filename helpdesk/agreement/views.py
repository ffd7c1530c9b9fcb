"""Second looks and agreement. Permissions: review cases; a case's looks, review or produce."""

from collections.abc import Sequence
from typing import Any, cast

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from helpdesk.accounts.access import needs_any
from helpdesk.accounts.models import User
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES
from helpdesk.agreement import selectors
from helpdesk.agreement.chart import draw_months
from helpdesk.agreement.forms import OpinionForm, opinion_values
from helpdesk.cases.models import Case
from helpdesk.core.errors import WrongStateError
from helpdesk.core.http import announce, wants_fragment
from helpdesk.diagnosis import opinions
from helpdesk.diagnosis.engine import list_faults
from helpdesk.diagnosis.models import Opinion, SecondLook
from helpdesk.diagnosis.selectors import list_verdicts

reviewers_only = permission_required(REVIEW_CASES, raise_exception=True)


@require_GET
@reviewers_only
def second_looks(request: HttpRequest) -> HttpResponse:
    """List the cases one may look at without knowing what was made of them."""
    context = {
        "waiting": selectors.list_waiting_looks(_user(request)),
        "every": selectors.EVERY,
        "tab": "queue",
    }
    return render(request, "agreement/second_looks.html", context)


@require_http_methods(["GET", "POST"])
@reviewers_only
def second_look(request: HttpRequest, number: int) -> HttpResponseBase:
    """Show a report alone and keep what a reviewer makes of it."""
    case, user = _get_case(number), _user(request)
    opinion = case.opinions.filter(reviewer=user).first()
    if opinion and opinion.closed_at:
        messages.info(request, "You have closed your view of this case; it stays as it is.")
        return redirect(case)
    if opinions.has_worked_on(case, user):
        context = {"case": case, "tab": "queue"}
        return render(request, "agreement/not_blind.html", context, status=409)
    form = OpinionForm(request.POST or None, process=case.process, initial=opinion_values(opinion))
    if request.method != "POST":
        return _show_look(request, case, form, opinion)
    if not form.is_valid():
        return _show_look(request, case, form, opinion, status=422)
    data = form.cleaned_data
    opinions.give_opinion(
        case, form.named, reviewer=user, sureness=data["sureness"], is_blind=data["is_blind"]
    )
    messages.success(request, "Your view is kept. Nobody else sees it before you close it.")
    return redirect("agreement:second_look", number)


@require_POST
@reviewers_only
def close_look(request: HttpRequest, number: int) -> HttpResponseBase:
    """Close a reviewer's view of a case and show the case."""
    case = _get_case(number)
    try:
        opinions.close_opinion(case, reviewer=_user(request))
    except WrongStateError as error:
        messages.error(request, str(error))
        return redirect("agreement:second_look", number)
    messages.success(request, "Your view is closed and stands beside the verdict now.")
    return redirect(case.get_absolute_url() + "#second-looks")


@require_GET
@needs_any(REVIEW_CASES, PRODUCE_EPISODES)
def case_looks(request: HttpRequest, number: int) -> HttpResponseBase:
    """Show the second looks at a case beside its verdict."""
    case = _get_case(number)
    if opinions.has_open_opinion(case, _user(request)):
        return redirect("agreement:second_look", number)
    return _show_case_looks(request, case)


@require_POST
@reviewers_only
def ask_look(request: HttpRequest, number: int) -> HttpResponseBase:
    """Ask colleagues for a second look at a case."""
    case, words = _get_case(number), "A second look is asked for."
    try:
        opinions.ask_second_look(case, actor=_user(request))
    except WrongStateError as error:
        words = str(error)
    if wants_fragment(request):
        return announce(_show_case_looks(request, case), words)
    messages.success(request, words)
    return redirect(case.get_absolute_url() + "#second-looks")


@require_GET
@reviewers_only
def agreement(request: HttpRequest) -> HttpResponse:
    """Show how far reviewers agree with each other, and the engine with their verdicts."""
    judged = selectors.list_judgements()
    pairs = selectors.list_pairs(judged)
    months = selectors.list_months()
    context: dict[str, Any] = {
        "pairs": pairs,
        "group": selectors.find_group(judged) if len(pairs) > 1 else None,
        "months": months,
        "chart": draw_months(months) if months else None,
        "fault_count": len(list_faults()),
        "few": selectors.FEW,
        "enough": selectors.ENOUGH,
        "tab": "queue",
    }
    return render(request, "agreement/agreement.html", context)


def _show_look(
    request: HttpRequest,
    case: Case,
    form: OpinionForm,
    opinion: Opinion | None,
    *,
    status: int = 200,
) -> HttpResponse:
    """Render the page of a second look."""
    context = {
        "case": case,
        "report": selectors.get_blind_report(case),
        "form": form,
        "opinion": opinion,
        "tab": "queue",
    }
    return render(request, "agreement/second_look.html", context, status=status)


def _show_case_looks(request: HttpRequest, case: Case) -> HttpResponse:
    """Render the part of the case page that holds its second looks."""
    verdict = list(list_verdicts(case))
    looks = [
        (look, _compare(look, [entry.fault for entry in verdict]))
        for look in selectors.list_closed_opinions(case)
    ]
    context = {
        "case": case,
        "verdict": verdict,
        "looks": looks,
        "is_asked": SecondLook.objects.filter(case=case).exists(),
        "may_ask": _user(request).has_perm(REVIEW_CASES) and not case.erased_at,
    }
    return render(request, "agreement/_case_looks.html", context)


def _compare(look: Opinion, verdict: Sequence[str]) -> str:
    """Return in words how an opinion stands to the faults of the verdict."""
    named = [fault["fault"] for fault in look.faults]
    if not verdict:
        return "there is no verdict yet"
    if named[0] == verdict[0]:
        return "the same main fault as the verdict"
    if set(named).intersection(verdict):
        return "partly the verdict"
    return "another fault than the verdict"


def _get_case(number: int) -> Case:
    return get_object_or_404(Case, pk=number)


def _user(request: HttpRequest) -> User:
    return cast(User, request.user)
