"""The mailroom: letters that came in. Permissions: review cases."""

from collections.abc import Callable
from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import BadRequest
from django.core.files.base import ContentFile
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST
from django.views.decorators.vary import vary_on_headers

from helpdesk.accounts.models import User
from helpdesk.accounts.roles import REVIEW_CASES
from helpdesk.cases.models import Case
from helpdesk.core.errors import DeskError
from helpdesk.core.http import HtmxRequest, download_response, wants_fragment
from helpdesk.mailroom import services
from helpdesk.mailroom.forms import CaseNumberForm, ShelfForm
from helpdesk.mailroom.mailboxes import list_settings
from helpdesk.mailroom.models import Effect, IncomingMail, MailState
from helpdesk.mailroom.selectors import (
    count_to_look_at,
    get_letter,
    list_letters,
    list_letters_of,
    list_mailboxes,
)
from helpdesk.outbox.selectors import mask_address

reviewers_only = permission_required(REVIEW_CASES, raise_exception=True)
# Where a letter stands that can still be decided about.
OPEN = services.OPEN_STATES


@require_GET
@reviewers_only
def mailroom(request: HttpRequest) -> HttpResponse:
    """List letters: those that want a look first, and the mailboxes they come from."""
    form = ShelfForm(request.GET)
    if not form.is_valid():  # no link of ours asks for it
        raise BadRequest("Part of the mailroom not understood.")
    context = {
        "shelf": form.chosen,
        "page": list_letters(form.chosen, request.GET.get("after", "")),
        "count": count_to_look_at(),
        "mailboxes": list_mailboxes([box.name for box in list_settings()]),
        "tab": "mailroom",
    }
    return render(request, "mailroom/mailroom.html", context)


@require_GET
@reviewers_only
def letter(request: HttpRequest, mail_id: int) -> HttpResponse:
    """Show one letter."""
    return _show(request, _get(mail_id))


@require_GET
@reviewers_only
def raw(request: HttpRequest, mail_id: int) -> HttpResponseBase:
    """Hand out a letter as it came, as a download that no browser shows."""
    mail = _get(mail_id)
    file = ContentFile(services.read_raw(mail))
    return download_response(file, label=f"letter-{mail.pk}.eml")


@require_POST
@reviewers_only
def belongs(request: HttpRequest, mail_id: int) -> HttpResponseBase:
    """Add a letter to a case as a reply."""
    mail = _get(mail_id)
    form = CaseNumberForm(request.POST)
    case = Case.objects.filter(pk=form.cleaned_data["case"]).first() if form.is_valid() else None
    if case is None:
        form.add_error("case", "There is no case with this number.")
        return _show(request, mail, form=form, status=422)
    by = cast(User, request.user)
    return _decide(request, mail, lambda: services.give_to_case(mail.pk, case.pk, by=by))


@require_POST
@reviewers_only
def new_case(request: HttpRequest, mail_id: int) -> HttpResponseBase:
    """Open a case for a letter."""
    mail = _get(mail_id)
    by = cast(User, request.user)
    return _decide(request, mail, lambda: services.open_case_for(mail.pk, by=by))


@require_POST
@reviewers_only
def again(request: HttpRequest, mail_id: int) -> HttpResponseBase:
    """Read a letter again that was set aside."""
    mail = _get(mail_id)
    return _decide(request, mail, lambda: services.take_again(mail.pk))


@require_POST
@reviewers_only
def dismiss(request: HttpRequest, mail_id: int) -> HttpResponseBase:
    """Note that nothing is to be done about a letter."""
    mail = _get(mail_id)
    return _decide(request, mail, lambda: services.dismiss_letter(mail.pk))


@require_GET
@reviewers_only
@vary_on_headers("HX-Request")
def case_letters(request: HtmxRequest, number: int) -> HttpResponse:
    """List the letters of one case; htmx gets the list alone."""
    case = get_object_or_404(Case, pk=number)
    name = "_case_letters.html" if wants_fragment(request) else "case_letters.html"
    context = {"case": case, "letters": list_letters_of(case), "tab": "queue"}
    return render(request, f"mailroom/{name}", context)


def _get(mail_id: int) -> IncomingMail:
    try:
        return get_letter(mail_id)
    except IncomingMail.DoesNotExist as error:
        raise Http404("No such letter.") from error


def _show(
    request: HttpRequest,
    mail: IncomingMail,
    *,
    form: CaseNumberForm | None = None,
    status: int = 200,
) -> HttpResponse:
    suggested = mail.suggested_case_id
    context = {
        "mail": mail,
        "masked_sender": mask_address(mail.sender) if mail.sender else "",
        "is_open": mail.state in OPEN,
        "has_more": mail.text != mail.words,
        "form": form or CaseNumberForm(initial={"case": suggested}),
        "tab": "mailroom",
    }
    return render(request, "mailroom/letter.html", context, status=status)


def _decide(
    request: HttpRequest, mail: IncomingMail, step: Callable[[], IncomingMail]
) -> HttpResponseBase:
    """Do a step and say what became of the letter."""
    try:
        done = step()
    except DeskError as error:
        messages.info(request, str(error))
        return redirect(mail)
    if done.state == MailState.TAKEN and done.case:
        what = "a new case" if done.effect == Effect.REPORT else "a reply"
        messages.success(request, f"The letter is {what} now.")
        return redirect(done.case)
    if done.state == MailState.DISMISSED:
        messages.success(request, "Noted: nothing is to be done about this letter.")
        return redirect("mailroom:mailroom")
    messages.info(request, f"The letter was read and not taken. {done.reason}")
    return redirect(done)
