"""What the review views share: fetching the case, showing its page and parts."""

from typing import Any, cast

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render

from helpdesk.accounts.access import needs_any
from helpdesk.accounts.models import User
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES
from helpdesk.answers.selectors import get_panel, list_sent_steps
from helpdesk.cases.models import Case, CaseState
from helpdesk.core.http import HtmxRequest, announce, as_int, wants_fragment
from helpdesk.diagnosis.engine import list_faults, list_findings, list_tools
from helpdesk.diagnosis.selectors import get_respondent
from helpdesk.outbox.deliveries import is_carried
from helpdesk.review.forms import AskForm, FactsForm, NoteForm, OutcomeForm
from helpdesk.review.selectors import get_case_page, list_reviewers
from helpdesk.review.services import goes_by_mail

reviewers_only = permission_required(REVIEW_CASES, raise_exception=True)
desk_people = needs_any(REVIEW_CASES, PRODUCE_EPISODES)
MOST_PROCESS = {"MEX", "VPP"}


def get_case(number: int) -> Case:
    """Return a case with who has it, or answer 404."""
    return get_object_or_404(Case.objects.select_related("assigned_to"), pk=number)


def user_of(request: HtmxRequest) -> User:
    """Return who asks."""
    return cast(User, request.user)


def case_context(request: HtmxRequest, case: Case, **extra: Any) -> dict[str, Any]:
    """Return what the case page and each of its parts may name."""
    page = get_case_page(case)
    ticked = extra.pop("ticked", None)
    view = page.view
    if ticked is None:
        asked = view.questions if view and view.batch_pays else ()
        ticked = [question.finding for question in asked if question.is_together]
    photo_id = as_int(request.GET.get("photo"))
    chosen = next((photo for photo in page.photos if photo.pk == photo_id), None)
    return {
        "case": case,
        "page": page,
        "view": view,
        "dangers": view.dangers if view else (),
        "photo": chosen or (page.photos[0] if page.photos else None),
        "ticked": ticked,
        "ask_form": AskForm(),
        "note_form": NoteForm(),
        "goes_by_mail": goes_by_mail(case),
        "is_carried": is_carried(case),
        "may_review": user_of(request).has_perm(REVIEW_CASES) and not case.erased_at,
        "is_closed": case.state == CaseState.CLOSED,
        "respondent": get_respondent(case),
        "tools": list_tools(case.process),
        "tab": "queue",
        **extra,
    }


def show_case(
    request: HtmxRequest, case: Case, *, status: int = 200, said: str = "", **extra: Any
) -> HttpResponse:
    """Render the whole page of a case."""
    context = case_context(request, case, **extra)
    process = case.process if case.process in MOST_PROCESS else ""
    context |= {
        "answer_panel": get_panel(case),
        "colleagues": list_reviewers() if context["may_review"] else (),
        "all_faults": list_faults(process),
        "all_findings": list_findings(process),
    }
    context.setdefault("facts_form", FactsForm(instance=case))
    if context["may_review"] and context["answer_panel"].sent:
        steps = list_sent_steps(context["answer_panel"].sent)
        context.setdefault("outcome_form", OutcomeForm(steps=steps))
    response = render(request, "review/case.html", context, status=status)
    return announce(response, said) if said else response


def show_part(
    request: HtmxRequest,
    case: Case,
    template: str,
    *,
    status: int = 200,
    said: str = "",
    **extra: Any,
) -> HttpResponse:
    """Render a part of the case page for htmx, or the whole page with the part in it."""
    if not wants_fragment(request):
        return show_case(request, case, status=status, **extra)
    context = case_context(request, case, is_swap=True, said=said, **extra)
    context.setdefault("facts_form", FactsForm(instance=case))
    response = render(request, template, context, status=status)
    return announce(response, said) if said else response


def back_to(request: HtmxRequest, case: Case, words: str, *, part: str = "") -> HttpResponseBase:
    """Go back to the case page with a notice."""
    messages.success(request, words)
    return redirect(case.get_absolute_url() + (f"#{part}" if part else ""))
