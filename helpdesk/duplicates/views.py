"""Pairs that may be one print. Permissions: see them, review or produce; decide, review."""

from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import BadRequest
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST
from django.views.decorators.vary import vary_on_headers

from helpdesk.accounts.access import needs_any
from helpdesk.accounts.models import User
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES
from helpdesk.cases.models import Case
from helpdesk.core.errors import DeskError
from helpdesk.core.http import HtmxRequest, announce, as_int, wants_fragment
from helpdesk.duplicates import services
from helpdesk.duplicates.forms import JoinForm, LikelyForm
from helpdesk.duplicates.models import Proposal
from helpdesk.duplicates.selectors import (
    find_likely,
    list_decided,
    list_joined,
    list_open_proposals,
    list_unpassed,
)

reviewers_only = permission_required(REVIEW_CASES, raise_exception=True)
desk_people = needs_any(REVIEW_CASES, PRODUCE_EPISODES)
SAME, APART = "same", "apart"


@require_GET
@reviewers_only
def proposals(request: HtmxRequest) -> HttpResponse:
    """List what waits for a decision, what was decided, and answers that reached not everybody."""
    return _show_list(request)


@require_GET
@reviewers_only
def likely(request: HtmxRequest) -> HttpResponse:
    """Show which cases something about to be entered may be about; nothing is kept."""
    form = LikelyForm(request.GET)
    if not form.is_valid():
        raise BadRequest("More was sent than a report holds.")
    context = {"cases": find_likely(**form.cleaned_data), "tab": "queue"}
    name = "duplicates/_likely.html" if wants_fragment(request) else "duplicates/likely.html"
    return render(request, name, context)


@require_GET
@desk_people
@vary_on_headers("HX-Request")
def panel(request: HtmxRequest, number: int) -> HttpResponse:
    """Show what may be the same print as a case, and what is joined to it."""
    return _show_panel(request, get_object_or_404(Case, pk=number))


@require_POST
@reviewers_only
def decide(request: HtmxRequest, proposal: int) -> HttpResponseBase:
    """Join the two cases of a proposal, or keep them apart."""
    found = get_object_or_404(Proposal, pk=proposal)
    answer = request.POST.get("answer")
    if answer not in (SAME, APART):
        raise BadRequest("A pair is the same print, or it is not.")
    try:
        if answer == SAME:
            lead = services.accept_proposal(found.pk, actor=_user(request))
            words = f"Joined: case {lead.pk} leads."
        else:
            services.refuse_proposal(found.pk, actor=_user(request))
            words = "Kept apart. They are not proposed again unless a new photo comes."
    except DeskError as error:
        return _back(request, found, str(error), is_refusal=True)
    return _back(request, found, words)


@require_POST
@reviewers_only
def undo(request: HtmxRequest, proposal: int) -> HttpResponseBase:
    """Take a decision back."""
    found = get_object_or_404(Proposal, pk=proposal)
    try:
        services.undo_decision(found.pk, actor=_user(request))
    except DeskError as error:
        return _back(request, found, str(error), is_refusal=True)
    return _back(request, found, "Taken back: the pair waits for a decision again.")


@require_POST
@reviewers_only
def join(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Join a case to another one by its number."""
    case = get_object_or_404(Case, pk=number)
    form = JoinForm(request.POST)
    if not form.is_valid():
        return _show_panel(request, case, form=form, status=422)
    try:
        lead = services.join(case, into=form.cleaned_data["into"], actor=_user(request))
    except DeskError as error:
        form.add_error("into", str(error))
        return _show_panel(request, case, form=form, status=422)
    return _done(request, case, f"Joined: case {lead.pk} leads.")


@require_POST
@reviewers_only
def part(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Undo the joining of a case."""
    case = get_object_or_404(Case, pk=number)
    lead_id = case.joined_to_id
    try:
        services.part(case, actor=_user(request))
    except DeskError as error:
        messages.info(request, str(error))
        return redirect(case)
    words = f"Case {case.pk} is no longer joined to case {lead_id}."
    return _done(request, case, words)


def _user(request: HtmxRequest) -> User:
    return cast(User, request.user)


def _back(
    request: HtmxRequest, proposal: Proposal, words: str, *, is_refusal: bool = False
) -> HttpResponseBase:
    """Return to where the decision was made: a case's panel or the list."""
    seen_from = as_int(request.POST.get("case"))
    pair = {proposal.first_id: proposal.first, proposal.second_id: proposal.second}
    if seen_from in pair:
        return _done(request, pair[seen_from], words)
    if wants_fragment(request):
        return announce(_show_list(request), words)
    (messages.info if is_refusal else messages.success)(request, words)
    return redirect("duplicates:proposals")


def _done(request: HtmxRequest, case: Case, words: str) -> HttpResponseBase:
    if wants_fragment(request):
        case.refresh_from_db()
        return announce(_show_panel(request, case), words)
    messages.success(request, words)
    return redirect(f"{case.get_absolute_url()}#case-duplicates")


def _show_list(request: HtmxRequest) -> HttpResponse:
    context = {
        "pairs": list_open_proposals(),
        "decided": list_decided(),
        "unpassed": list_unpassed(),
        "tab": "queue",
    }
    name = "duplicates/_pairs.html" if wants_fragment(request) else "duplicates/proposals.html"
    return render(request, name, context)


def _show_panel(
    request: HtmxRequest, case: Case, *, form: JoinForm | None = None, status: int = 200
) -> HttpResponse:
    context = {
        "case": case,
        "pairs": list_open_proposals(case),
        "joined": list_joined(case),
        "may_review": _user(request).has_perm(REVIEW_CASES) and not case.erased_at,
        "join_form": form or JoinForm(),
        "tab": "queue",
    }
    name = "duplicates/_panel.html" if wants_fragment(request) else "duplicates/case.html"
    return render(request, name, context, status=status)
