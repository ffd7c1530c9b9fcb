"""Consent of a case, a person's copy, erasure by the desk, what was removed."""

from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import (
    HttpRequest,
    HttpResponse,
    HttpResponseBase,
    QueryDict,
    StreamingHttpResponse,
)
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from helpdesk.accounts.access import needs_any
from helpdesk.accounts.models import User
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES, RUN_DESK
from helpdesk.cases.models import Case
from helpdesk.cases.services import record_event
from helpdesk.core.paging import keyset_page
from helpdesk.keeping.consents import list_consents
from helpdesk.keeping.erasing import erase_everywhere, erase_for, finish_erasure
from helpdesk.keeping.exporting import describe_person
from helpdesk.keeping.exports import copy_response, stream_copy
from helpdesk.keeping.forms import EraseForm, ToldConsentForm
from helpdesk.keeping.models import RemovalRecord
from helpdesk.keeping.rules import list_rules
from helpdesk.keeping.services import keep_told_consent
from helpdesk.people.models import Person
from helpdesk.people.selectors import list_cases_of

reviewers_only = permission_required(REVIEW_CASES, raise_exception=True)
admins_only = permission_required(RUN_DESK, raise_exception=True)
may_look = needs_any(REVIEW_CASES, PRODUCE_EPISODES)
PAGE_SIZE = 50


@require_safe
@may_look
def consents(request: HttpRequest, number: int) -> HttpResponse:
    """Show what was agreed about a case."""
    case = get_object_or_404(Case, pk=number)
    return _show_consents(request, case, ToldConsentForm(case=case))


@require_POST
@reviewers_only
def keep_told(request: HttpRequest, number: int) -> HttpResponseBase:
    """Keep what the person of a case, or the owner of the print, told the desk."""
    case = get_object_or_404(Case, pk=number, erased_at__isnull=True)
    form = ToldConsentForm(request.POST, case=case)
    if not form.is_valid():
        return _show_consents(request, case, form)
    keep_told_consent(
        case.pk, form.consent, given_by=form.cleaned_data["given_by"], quote=form.quoted
    )
    messages.success(request, "What they said is kept, and holds from now on.")
    return redirect("keeping:consents", number)


@require_POST
@reviewers_only
def copy_case(request: HttpRequest, number: int) -> StreamingHttpResponse:
    """Hand out everything of one case, for its person."""
    case = get_object_or_404(Case, pk=number, erased_at__isnull=True)
    _note_copy(case, request)
    return copy_response(stream_copy([case]), name=f"case-{case.pk}")


@require_POST
@reviewers_only
def copy_person(request: HttpRequest, person_id: int) -> StreamingHttpResponse:
    """Hand out everything of a person."""
    person = _find(person_id)
    cases = list(list_cases_of(person))
    for case in cases:
        _note_copy(case, request)
    return copy_response(
        stream_copy(cases, person=describe_person(person)), name=f"person-{person.pk}"
    )


@require_http_methods(["GET", "HEAD", "POST"])
@reviewers_only
def erase_case(request: HttpRequest, number: int) -> HttpResponseBase:
    """Ask why, then erase a case for its person."""
    case = get_object_or_404(Case, pk=number, erased_at__isnull=True)
    form = EraseForm(_posted(request))
    if request.method == "POST" and form.is_valid():
        erase_for([case.pk], actor=cast(User, request.user), why=form.cleaned_data["why"])
        finish_erasure(case.pk)
        messages.success(request, f"Case {case.pk} is erased.")
        return redirect(case)
    context = {"form": form, "case": case, "cases": [case], "tab": "queue"}
    return render(request, "keeping/erase.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@reviewers_only
def erase_person(request: HttpRequest, person_id: int) -> HttpResponseBase:
    """Ask why, then erase everything of a person."""
    person = _find(person_id)
    form = EraseForm(_posted(request))
    if request.method == "POST" and form.is_valid():
        erased = erase_everywhere(
            person, actor=cast(User, request.user), why=form.cleaned_data["why"]
        )
        for number in erased:
            finish_erasure(number)
        messages.success(request, f"Everything of this person is erased; cases: {len(erased)}.")
        return redirect("people:people")
    context = {
        "form": form,
        "person": person,
        "cases": list(list_cases_of(person)),
        "tab": "search",
    }
    return render(request, "keeping/erase.html", context, status=422 if form.errors else 200)


@require_safe
@admins_only
def removals(request: HttpRequest) -> HttpResponse:
    """Show for how long things are kept, what is due, and what was removed."""
    page = keyset_page(
        RemovalRecord.objects.all(),
        fields=("-at", "-id"),
        after=request.GET.get("after", ""),
        size=PAGE_SIZE,
    )
    context = {
        "tab": "outbox",
        "rules": [(rule, rule.list_due().count()) for rule in list_rules().values()],
        "page": page,
    }
    return render(request, "keeping/removals.html", context)


def _show_consents(request: HttpRequest, case: Case, form: ToldConsentForm) -> HttpResponse:
    """Render what was agreed, with the form as it is."""
    context = {
        "case": case,
        "uses": list_consents(case),
        "form": form,
        "may_review": request.user.has_perm(REVIEW_CASES) and not case.erased_at,
        "tab": "queue",
    }
    return render(request, "keeping/consents.html", context, status=422 if form.errors else 200)


def _posted(request: HttpRequest) -> QueryDict | None:
    """Return what was sent, even if it is empty, or None where nothing was."""
    return request.POST if request.method == "POST" else None


def _find(person_id: int) -> Person:
    return get_object_or_404(Person, pk=person_id, merged_into__isnull=True)


def _note_copy(case: Case, request: HttpRequest) -> None:
    """Note in a case's history that a copy of it was handed out."""
    user = cast(User, request.user)
    record_event(case, kind="copy", what="A copy of everything was made", actor=user)
