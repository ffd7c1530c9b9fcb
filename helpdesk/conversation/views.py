"""The conversation of a case. Permissions: see it, review or produce; send again, review."""

from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST
from django.views.decorators.vary import vary_on_headers

from helpdesk.accounts.access import needs_any
from helpdesk.accounts.models import User
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES
from helpdesk.cases.models import Case
from helpdesk.conversation.timeline import get_timeline, list_undelivered
from helpdesk.core.http import HtmxRequest, wants_fragment
from helpdesk.outbox.models import OutgoingMail
from helpdesk.outbox.services import send_again as send_letter_again

LATEST = 12  # entries the panel shows unfolded [judgement: desk design, 2026-11]
desk_people = needs_any(REVIEW_CASES, PRODUCE_EPISODES)
reviewers_only = permission_required(REVIEW_CASES, raise_exception=True)


@require_GET
@desk_people
@vary_on_headers("HX-Request")
def conversation(request: HtmxRequest, number: int) -> HttpResponse:
    """Show everything said and sent about a case; htmx gets the panel with the latest."""
    case = get_object_or_404(Case, pk=number)
    is_page = not wants_fragment(request)
    entries = get_timeline(case)
    cut = 0 if is_page else max(0, len(entries) - LATEST)
    context = {
        "case": case,
        "earlier": entries[:cut],
        "latest": entries[cut:],
        "undelivered": list_undelivered(entries),
        "may_review": cast(User, request.user).has_perm(REVIEW_CASES) and not case.erased_at,
        "is_page": is_page,
        "tab": "queue",
    }
    name = "conversation/conversation.html" if is_page else "conversation/_conversation.html"
    return render(request, name, context)


@require_POST
@reviewers_only
def send_again(request: HttpRequest, number: int, mail_id: int) -> HttpResponseBase:
    """Write a letter that did not arrive once more, to the address the case has now."""
    mail = get_object_or_404(
        OutgoingMail.objects.select_related("case"),
        pk=mail_id,
        case=number,
        undelivered_at__isnull=False,
    )
    if send_letter_again(mail):
        messages.success(request, "The letter is on its way again.")
    else:
        messages.error(request, "There is no address on this case, or it wants no such letters.")
    return redirect("conversation:conversation", number)
