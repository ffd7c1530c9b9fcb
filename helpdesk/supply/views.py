"""Subjects and what is said of them."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_GET

from helpdesk.accounts.access import needs_any
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES
from helpdesk.supply.models import Subject

desk_people = needs_any(REVIEW_CASES, PRODUCE_EPISODES)


@require_GET
@desk_people
def subjects(request: HttpRequest) -> HttpResponse:
    """List the subjects."""
    return redirect("home")


@require_GET
@desk_people
def subject(request: HttpRequest, subject_id: int) -> HttpResponse:
    """Show one subject."""
    get_object_or_404(Subject, pk=subject_id)
    return redirect("home")
