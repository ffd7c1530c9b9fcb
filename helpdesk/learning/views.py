"""What the desk's cases teach. Permissions: run the desk."""

from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from helpdesk.accounts.models import User
from helpdesk.accounts.roles import RUN_DESK
from helpdesk.diagnosis.models import KnowledgeRevision
from helpdesk.learning.errors import InForceError, NothingToLearnError
from helpdesk.learning.forms import CompareForm, LearnForm, SwitchForm
from helpdesk.learning.selectors import (
    EXPERT,
    find_in_force,
    get_comparison,
    get_overview,
    get_revision_page,
    list_numbered,
)
from helpdesk.learning.services import ask_to_learn, put_in_force

runners_only = permission_required(RUN_DESK, raise_exception=True)


@require_GET
@runners_only
def learning(request: HttpRequest) -> HttpResponse:
    """Show the revisions, which is in force, and how much a case counts."""
    return _show(request, LearnForm())


@require_POST
@runners_only
def learn(request: HttpRequest) -> HttpResponseBase:
    """Let a worker make the next revision; it is not in force by that."""
    form = LearnForm(request.POST)
    if not form.is_valid():
        return _show(request, form, status=422)
    try:
        ask_to_learn(cast(User, request.user), note=form.cleaned_data["note"])
        messages.success(request, "The desk is learning. The new revision stands here when made.")
    except NothingToLearnError as error:
        messages.info(request, str(error))
    return redirect("learning:learning")


@require_GET
@runners_only
def revision(request: HttpRequest, number: int) -> HttpResponse:
    """Show what one revision changed, how well it foresees, and what surprised it."""
    page = get_revision_page(get_object_or_404(KnowledgeRevision, number=number))
    return render(request, "learning/revision.html", {"page": page, "tab": "learning"})


@require_GET
@runners_only
def compare(request: HttpRequest) -> HttpResponse:
    """Show the numbers in which two revisions differ most, or one and the expert's."""
    revisions = list_numbered()
    newest = revisions[-1].number if revisions else EXPERT
    chosen = {"before": str(EXPERT), "after": str(newest), **request.GET.dict()}
    form = CompareForm(chosen, revisions=revisions)
    if not form.is_valid():  # neither our selects nor our links can send this
        raise BadRequest("Comparison not understood.")
    known = {revision.number: revision for revision in revisions}
    before, after = (known.get(form.cleaned_data[name]) for name in ("before", "after"))
    context = {
        "form": form,
        "comparison": get_comparison(before, after),
        "has_revisions": bool(revisions),
        "tab": "learning",
    }
    return render(request, "learning/compare.html", context)


@require_http_methods(["GET", "POST"])
@runners_only
def switch(request: HttpRequest, number: int) -> HttpResponseBase:
    """Ask why, then put a revision in force; number 0 goes back to the expert's numbers."""
    wanted = None if number == EXPERT else get_object_or_404(KnowledgeRevision, number=number)
    form = SwitchForm(request.POST or None)
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                put_in_force(wanted, actor=cast(User, request.user), why=form.cleaned_data["why"])
                messages.success(request, "Done. Every case uses these numbers at its next look.")
                return redirect("learning:learning")
            except InForceError as error:
                form.add_error(None, str(error))
    in_force = find_in_force()
    context = {
        "form": form,
        "revision": wanted,
        "in_force": in_force,
        "comparison": get_comparison(in_force, wanted),
        "tab": "learning",
    }
    return render(request, "learning/switch.html", context, status=status)


def _show(request: HttpRequest, form: LearnForm, *, status: int = 200) -> HttpResponse:
    """Show the list."""
    context = {"overview": get_overview(), "form": form, "tab": "learning"}
    return render(request, "learning/learning.html", context, status=status)
