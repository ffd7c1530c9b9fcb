"""People: who they are, their cases, making two one. Permission: review cases."""

from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse, HttpResponseBase, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from helpdesk.accounts.access import needs_any
from helpdesk.accounts.models import User
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES
from helpdesk.cases.models import Case
from helpdesk.cases.services import record_event
from helpdesk.core.http import announce, wants_fragment
from helpdesk.people import services
from helpdesk.people.errors import LastContactError, NotMergeableError
from helpdesk.people.forms import FindForm, MergeForm, OwnerCreditForm, PersonForm, SplitForm
from helpdesk.people.models import Contact, Merge, Part, Person, Role
from helpdesk.people.selectors import (
    find_latest_case,
    get_person_page,
    list_case_people,
    list_people,
)

reviewers_only = permission_required(REVIEW_CASES, raise_exception=True)
may_look = needs_any(REVIEW_CASES, PRODUCE_EPISODES)


@require_GET
@reviewers_only
def people(request: HttpRequest) -> HttpResponse:
    """List the people whose name or address holds some words."""
    form = FindForm(request.GET or None)
    words = form.looked_for
    page = list_people(words, after=request.GET.get("after", ""))
    context = {"form": form, "words": words, "page": page, "tab": "search"}
    return render(request, "people/people.html", context)


@require_http_methods(["GET", "POST"])
@reviewers_only
def person(request: HttpRequest, person_id: int) -> HttpResponseBase:
    """Show a person with their cases, or change what the desk knows of them."""
    found = get_object_or_404(Person, pk=person_id)
    if found.merged_into_id:
        return redirect("people:person", found.merged_into_id)
    form = PersonForm(_posted(request), instance=Person.objects.get(pk=person_id))
    if request.method == "POST" and form.is_valid():
        services.change_person(found, form.cleaned_data)
        messages.success(request, "What you changed is kept.")
        return redirect(found)
    return _show(request, found, form=form, status=422 if form.errors else 200)


@require_POST
@reviewers_only
def reveal(request: HttpRequest, person_id: int) -> HttpResponse:
    """Show how a person can be reached, and note in their latest case who looked."""
    found = _find(person_id)
    case = find_latest_case(found)
    if case:
        user = cast(User, request.user)
        record_event(case, kind="contact_shown", what="Contact data looked at", actor=user)
    return _show(request, found, contacts_shown=True)


@require_POST
@reviewers_only
def check_contact(request: HttpRequest, person_id: int, contact_id: int) -> HttpResponseBase:
    """Note that an address was made sure of."""
    services.check_contact(_find_contact(person_id, contact_id))
    messages.success(request, "The address is marked as checked.")
    return redirect("people:person", person_id)


@require_POST
@reviewers_only
def split(request: HttpRequest, person_id: int, contact_id: int) -> HttpResponseBase:
    """Make a person of their own of an address."""
    contact = _find_contact(person_id, contact_id)
    form = SplitForm(request.POST)
    name = form.cleaned_data["name"] if form.is_valid() else ""
    try:
        new = services.split_contact(contact.pk, name=name)
    except LastContactError as error:
        messages.error(request, str(error))
        return redirect("people:person", person_id)
    messages.success(request, f"Person {new.pk} has this address and its cases now.")
    return redirect(new)


@require_http_methods(["GET", "POST"])
@reviewers_only
def merge(request: HttpRequest, person_id: int) -> HttpResponseBase:
    """Show two people side by side, then make them one."""
    kept = _find(person_id)
    data = request.POST if request.method == "POST" else request.GET
    form = MergeForm(data or None)
    gone = form.cleaned_data["gone"] if form.is_valid() else None
    if gone and request.method == "POST":
        try:
            services.merge_people(kept.pk, gone.pk, by=cast(User, request.user))
        except NotMergeableError as error:
            form.add_error("gone", str(error))
        else:
            messages.success(request, f"Person {gone.pk} is one with this person now.")
            return redirect(kept)
    context = {
        "kept": get_person_page(kept),
        "gone": get_person_page(gone) if gone and gone.pk != kept.pk else None,
        "form": form,
        "tab": "search",
    }
    return render(request, "people/merge.html", context, status=422 if form.errors else 200)


@require_POST
@reviewers_only
def undo_merge(request: HttpRequest, merge_id: int) -> HttpResponseBase:
    """Make two people of one again."""
    found = get_object_or_404(Merge, pk=merge_id)
    try:
        services.undo_merge(found.pk)
        messages.success(request, f"Person {found.gone_id} stands alone again.")
    except NotMergeableError as error:
        messages.error(request, str(error))
    return redirect("people:person", found.kept_id)


@require_GET
@may_look
def case_panel(request: HttpRequest, number: int) -> HttpResponse:
    """Show who has a part in a case and what is known of them."""
    return _panel(request, get_object_or_404(Case, pk=number))


@require_POST
@reviewers_only
def credit_owner(request: HttpRequest, number: int) -> HttpResponseBase:
    """Keep how the owner of a print that was passed on wants to be named."""
    part = get_object_or_404(
        Part.objects.select_related("case"),
        case=number,
        role=Role.OWNER,
        case__is_own_print=False,
    )
    form = OwnerCreditForm(request.POST, instance=Part.objects.get(pk=part.pk))
    if not form.is_valid():
        return _panel(request, part.case, form=form, status=422)
    data = form.cleaned_data
    services.credit_owner(part, kind=data["credit_kind"], name=data["credit_as"])
    if not wants_fragment(request):
        messages.success(request, "The owner’s credit is kept.")
        return redirect(part.case)
    return announce(_panel(request, part.case), "The owner’s credit is kept.")


def _posted(request: HttpRequest) -> QueryDict | None:
    """Return what was sent, even if it is empty, or None where nothing was."""
    return request.POST if request.method == "POST" else None


def _find(person_id: int) -> Person:
    return get_object_or_404(Person, pk=person_id, merged_into__isnull=True)


def _find_contact(person_id: int, contact_id: int) -> Contact:
    return get_object_or_404(Contact, pk=contact_id, person=person_id)


def _show(
    request: HttpRequest,
    found: Person,
    *,
    form: PersonForm | None = None,
    contacts_shown: bool = False,
    status: int = 200,
) -> HttpResponse:
    """Render a person's page."""
    context = {
        "person": found,
        "page": get_person_page(found),
        "form": form or PersonForm(instance=found),
        "contacts_shown": contacts_shown,
        "tab": "search",
    }
    return render(request, "people/person.html", context, status=status)


def _panel(
    request: HttpRequest, case: Case, *, form: OwnerCreditForm | None = None, status: int = 200
) -> HttpResponse:
    """Render the panel of the case page."""
    shown = list_case_people(case)
    owner = next((p.owner_part for p in shown if p.owner_part), None)
    is_reviewer = request.user.has_perm(REVIEW_CASES)
    context = {
        "case": case,
        "people": shown,
        "may_review": is_reviewer,
        "owner_form": form or (OwnerCreditForm(instance=owner) if owner and is_reviewer else None),
    }
    return render(request, "people/_case_panel.html", context, status=status)
