"""The outbox: letters and failed work. Permissions: run the desk, but for the notices page."""

from typing import cast

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required, permission_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from helpdesk.accounts.models import User
from helpdesk.accounts.roles import RUN_DESK
from helpdesk.cases.services import record_event
from helpdesk.core.jobs import retry_failed
from helpdesk.core.models import Job
from helpdesk.outbox.marks import find_by_token
from helpdesk.outbox.models import OutgoingMail
from helpdesk.outbox.selectors import get_letter, list_failing, list_letters
from helpdesk.outbox.services import set_notices

runners_only = permission_required(RUN_DESK, raise_exception=True)


@require_GET
@runners_only
def outbox(request: HttpRequest) -> HttpResponse:
    """List letters, newest first, and work that failed."""
    context = {
        "page": list_letters(request.GET.get("after", "")),
        "failing": list_failing(),
        "folder": "" if settings.EMAIL_HOST else settings.OUTBOX_DIR,
        "tab": "outbox",
    }
    return render(request, "outbox/outbox.html", context)


@require_http_methods(["GET", "POST"])
@runners_only
def letter(request: HttpRequest, mail_id: int) -> HttpResponse:
    """Show one letter; a POST shows its address too, which is noted in the case's history."""
    try:
        found = get_letter(mail_id)
    except OutgoingMail.DoesNotExist as error:
        raise Http404("No such letter.") from error
    is_revealed = request.method == "POST"
    if is_revealed and found.mail.case:
        record_event(
            found.mail.case,
            kind="revealed",
            what="E-mail address shown in the outbox",
            actor=cast(User, request.user),
        )
    context = {"letter": found, "is_revealed": is_revealed, "tab": "outbox"}
    return render(request, "outbox/letter.html", context)


@require_POST
@runners_only
def retry(request: HttpRequest, job_id: int) -> HttpResponseBase:
    """Try a job again that was given up."""
    if retry_failed(get_object_or_404(Job, pk=job_id)):
        messages.success(request, "The desk tries it again now.")
    else:
        messages.info(request, "It was not given up; the desk is at it.")
    return redirect("outbox:outbox")


@csrf_exempt  # RFC 8058 section 3.1: a mail program posts without cookies; the address is the proof
@require_http_methods(["GET", "POST"])
@login_not_required
def notices(request: HttpRequest, token: str) -> HttpResponse:
    """Show whether an address gets notices; a POST stops them, or begins them again.

    Opening the page changes nothing, for programs open every link of a letter (RFC 8058).
    """
    mark = find_by_token(token)
    if mark is None:
        raise Http404("No such page.")
    if request.method == "POST":
        mark = set_notices(mark, wanted="again" in request.POST)
    context = {"are_wanted": mark.unsubscribed_at is None, "is_done": request.method == "POST"}
    return render(request, "outbox/notices.html", context)
