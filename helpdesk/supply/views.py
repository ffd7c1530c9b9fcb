"""Subjects, corrections and replies. Permissions: review cases or produce episodes."""

from collections.abc import Mapping
from typing import Any, cast

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST
from django.views.decorators.vary import vary_on_headers

from helpdesk.accounts.access import needs_any
from helpdesk.accounts.models import User
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES
from helpdesk.answers.models import Answer
from helpdesk.cases.models import Case
from helpdesk.core import clock
from helpdesk.core.errors import RefusedInputError
from helpdesk.core.http import HtmxRequest, as_int, storable, wants_fragment
from helpdesk.supply import overview, remarks, services
from helpdesk.supply.forms import CaseForm, RemarkForm, SubjectForm
from helpdesk.supply.models import NothingAdverse, Notice, Remark, Statement, Subject
from helpdesk.supply.remarks import NewRemark
from helpdesk.supply.selectors import (
    WITH_SUBJECT,
    adverse_faults_of,
    list_blocks,
    list_mentions,
    list_subjects_of,
)
from helpdesk.supply.services import SubjectFacts

desk_people = needs_any(REVIEW_CASES, PRODUCE_EPISODES)
producers_only = permission_required(PRODUCE_EPISODES, raise_exception=True)
LONGEST_SEARCH = 120


@require_GET
@desk_people
def subjects(request: HttpRequest) -> HttpResponse:
    """List the subjects with what stands on each."""
    words = storable(request.GET.get("words", ""))[:LONGEST_SEARCH]
    page = overview.list_subject_rows(words, after=request.GET.get("after", ""))
    context = {"page": page, "words": words, "notices": _notices(), "tab": "supply"}
    return render(request, "supply/subjects.html", context)


@require_http_methods(["GET", "POST"])
@desk_people
def new_subject(request: HttpRequest) -> HttpResponseBase:
    """Write down a subject."""
    below = as_int(request.GET.get("below"))
    initial = {"parent": below, "kind": request.GET.get("kind", "maker")}
    form = SubjectForm(request.POST if request.method == "POST" else None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            made = services.add_subject(SubjectFacts(**form.cleaned_data), actor=user_of(request))
        except RefusedInputError as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"{made.full_name} is written down.")
            return redirect(made)
    return show_form(request, form, "supply/subject_form.html", {"subject": None})


@require_http_methods(["GET", "POST"])
@desk_people
def edit_subject(request: HttpRequest, subject_id: int) -> HttpResponseBase:
    """Change a subject."""
    found = get_object_or_404(Subject, pk=subject_id)
    names = ("kind", "name", "parent", "product_kind", "contact_name", "contact_email")
    initial = {name: getattr(found, name) for name in (*names, "contact_other")}
    initial["other_names"] = "\n".join(each.name for each in found.other_names.all())
    form = SubjectForm(request.POST if request.method == "POST" else None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            services.change_subject(
                found.pk, SubjectFacts(**form.cleaned_data), actor=user_of(request)
            )
        except RefusedInputError as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, "Saved.")
            return redirect(found)
    return show_form(request, form, "supply/subject_form.html", {"subject": found})


@require_GET
@desk_people
def subject(request: HttpRequest, subject_id: int) -> HttpResponse:
    """Show one subject with all that was said of it and done about it."""
    return render(request, "supply/subject.html", _subject_context(subject_id, CaseForm()))


@require_POST
@desk_people
def link(request: HttpRequest, subject_id: int) -> HttpResponseBase:
    """Keep by hand that a case names a subject."""
    found = get_object_or_404(Subject, pk=subject_id)
    form = CaseForm(request.POST)
    if form.is_valid():
        case = Case.objects.filter(pk=form.cleaned_data["case"]).first()
        if case is None:
            form.add_error("case", f"There is no case {form.cleaned_data['case']}.")
        else:
            try:
                services.link_case(found, case, actor=user_of(request))
            except RefusedInputError as error:
                form.add_error("case", str(error))
    if not form.is_valid():
        context = _subject_context(subject_id, form)
        return render(request, "supply/subject.html", context, status=422)
    messages.success(request, f"Case {form.cleaned_data['case']} names {found.full_name}.")
    return redirect(found)


@require_POST
@desk_people
def unlink(request: HttpRequest, subject_id: int, number: int) -> HttpResponseBase:
    """Take away that a case names a subject."""
    found = get_object_or_404(Subject, pk=subject_id)
    case = get_object_or_404(Case, pk=number)
    services.drop_link(found, case, actor=user_of(request))
    messages.success(request, f"Case {number} does not name {found.full_name}.")
    return redirect(found)


@require_GET
@desk_people
def corrections(request: HttpRequest) -> HttpResponse:
    """List the corrections and replies that stand, and those that were withdrawn."""
    return render(request, "supply/remarks.html", _remarks_context())


@require_http_methods(["GET", "POST"])
@desk_people
def new_correction(request: HttpRequest) -> HttpResponseBase:
    """Add a correction or a reply."""
    initial = {
        "subject": as_int(request.GET.get("subject")),
        "episode_number": as_int(request.GET.get("episode")),
        "second": as_int(request.GET.get("second")),
        "on_date": clock.today(),
    }
    form = RemarkForm(request.POST if request.method == "POST" else None, initial=initial)
    if request.method == "POST" and form.is_valid():
        data = dict(form.cleaned_data)
        about = data.pop("subject")
        try:
            remarks.add_remark(about, NewRemark(**data), actor=user_of(request))
        except RefusedInputError as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"It stands beside {about.full_name} from now on.")
            return redirect("supply:corrections")
    return show_form(request, form, "supply/remark_form.html", {})


@require_POST
@desk_people
def withdraw_correction(request: HttpRequest, remark_id: int) -> HttpResponseBase:
    """Let a correction or reply stand no longer."""
    found = get_object_or_404(Remark, pk=remark_id)
    why = storable(request.POST.get("why", ""))
    try:
        remarks.withdraw_remark(found.pk, why=why, actor=user_of(request))
    except RefusedInputError as error:
        context = {**_remarks_context(), "refused": str(error), "refused_id": found.pk}
        return render(request, "supply/remarks.html", context, status=422)
    messages.success(request, "Withdrawn. It is kept in the history.")
    return redirect("supply:corrections")


@require_GET
@desk_people
@vary_on_headers("HX-Request")
def case_panel(request: HtmxRequest, number: int) -> HttpResponse:
    """Show whom a case names, what will be said of them, and what that still needs."""
    case = get_object_or_404(Case, pk=number)
    context = {
        "case": case,
        "named": list_subjects_of(case),
        "statements": overview.list_case_statements(case),
        "blocks": list_blocks(case),
        "decision": NothingAdverse.objects.filter(case=case).first(),
        "is_adverse": bool(adverse_faults_of(case)),
        "tab": "queue",
    }
    name = "_case_panel" if wants_fragment(request) else "case"
    return render(request, f"supply/{name}.html", context)


@require_GET
@desk_people
@vary_on_headers("HX-Request")
def answer_mentions(request: HtmxRequest, number: int) -> HttpResponse:
    """Show what stands on the subjects that the draft of an answer names."""
    case = get_object_or_404(Case, pk=number)
    drafts = Answer.objects.filter(case=case, sent_at__isnull=True)
    texts = [body for body in drafts.values_list("body", flat=True) if body]
    context = {"case": case, "mentions": list_mentions(texts), "tab": "queue"}
    name = "_mentions" if wants_fragment(request) else "mentions"
    return render(request, f"supply/{name}.html", context)


def show_form(
    request: HttpRequest, form: Any, template: str, context: Mapping[str, object]
) -> HttpResponse:
    """Show a form, as refused where it has errors."""
    status = 422 if form.errors else 200
    return render(request, template, {"form": form, "tab": "supply", **context}, status=status)


def user_of(request: HttpRequest) -> User:
    """Return who asks."""
    return cast(User, request.user)


def _notices() -> list[Notice]:
    return list(Notice.objects.select_related(*WITH_SUBJECT)[: overview.PAGE_SIZE])


def _remarks_context() -> dict[str, Any]:
    return {
        "standing": overview.list_remarks(),
        "withdrawn": overview.list_remarks(is_withdrawn=True),
        "tab": "supply",
    }


def _subject_context(subject_id: int, form: CaseForm) -> dict[str, Any]:
    found = get_object_or_404(Subject.objects.select_related("parent__parent"), pk=subject_id)
    return {
        "subject": found,
        "form": form,
        "children": found.children.select_related("parent__parent"),
        "other_names": [each.name for each in found.other_names.all()],
        "contact": overview.find_contact(found),
        "links": overview.list_linked_cases(found),
        "statements": overview.list_statements(Statement.objects.filter(subject=found)),
        "standing": overview.list_remarks().filter(subject=found),
        "withdrawn": overview.list_remarks(is_withdrawn=True).filter(subject=found),
        "notices": found.notices.all(),
        "entries": found.entries.all()[: overview.MOST_ENTRIES],
        "tab": "supply",
    }
