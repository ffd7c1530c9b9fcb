"""Notices. Permissions: write, review or produce; make public, produce; read, everybody."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import (
    require_GET,
    require_http_methods,
    require_POST,
    require_safe,
)

from helpdesk.core.errors import DeskError, RefusedInputError
from helpdesk.core.http import as_int, public_page, storable
from helpdesk.photos.responses import photo_response
from helpdesk.supply import notices, overview
from helpdesk.supply.errors import StaleWordsError
from helpdesk.supply.forms import NoticeForm
from helpdesk.supply.models import Notice, Statement, Subject
from helpdesk.supply.notices import NoticeWords
from helpdesk.supply.selectors import WITH_SUBJECT
from helpdesk.supply.views import desk_people, producers_only, show_form, user_of

FRESH_S = 60  # consent may be taken back at any moment: caches must ask again soon


@require_http_methods(["GET", "POST"])
@desk_people
def new_notice(request: HttpRequest, subject_id: int) -> HttpResponseBase:
    """Draft a notice on a subject."""
    subject = get_object_or_404(Subject.objects.select_related("parent__parent"), pk=subject_id)
    form = NoticeForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        made = notices.make_notice(subject, _words(form), actor=user_of(request))
        messages.success(request, "Drafted. See below what it still needs.")
        return redirect(made)
    return show_form(request, form, "supply/notice_form.html", {"subject": subject})


@require_GET
@desk_people
def notice(request: HttpRequest, notice_id: int) -> HttpResponse:
    """Show a notice to people of the desk, with what it still needs."""
    return render(request, "supply/notice.html", _context(_get(notice_id)))


@require_http_methods(["GET", "POST"])
@desk_people
def edit_notice(request: HttpRequest, notice_id: int) -> HttpResponseBase:
    """Change what a notice says; a public one is a draft again."""
    found = _get(notice_id)
    initial = {name: getattr(found, name) for name in ("title", "fault", "caution", "version")}
    initial["text"] = Statement.objects.get(notice=found).text
    form = NoticeForm(request.POST if request.method == "POST" else None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            notices.change_notice(
                found.pk,
                _words(form),
                version=form.cleaned_data["version"],
                actor=user_of(request),
            )
        except StaleWordsError as error:
            again = NoticeForm({**request.POST.dict(), "version": found.version})
            again.add_error(None, f"{error} Your words stand here and are not saved yet.")
            context = {"subject": found.subject, "notice": found, "form": again, "tab": "supply"}
            return render(request, "supply/notice_form.html", context, status=409)
        messages.success(request, "Saved.")
        return redirect(found)
    context = {"subject": found.subject, "notice": found}
    return show_form(request, form, "supply/notice_form.html", context)


@require_POST
@producers_only
def ready(request: HttpRequest, notice_id: int) -> HttpResponseBase:
    """Make a notice public."""
    found = _get(notice_id)
    try:
        notices.make_ready(
            found.pk,
            version=as_int(request.POST.get("version"), 0) or 0,
            has_looked=request.POST.get("has_looked") == "on",
            actor=user_of(request),
        )
    except DeskError as error:
        context = {**_context(_get(notice_id)), "refused": str(error)}
        return render(request, "supply/notice.html", context, status=422)
    messages.success(request, "Everybody can read the notice now.")
    return redirect(found)


@require_POST
@desk_people
def withdraw(request: HttpRequest, notice_id: int) -> HttpResponseBase:
    """Take a notice back."""
    found = _get(notice_id)
    try:
        why = storable(request.POST.get("why", ""))
        notices.withdraw_notice(found.pk, why=why, actor=user_of(request))
    except RefusedInputError as error:
        context = {**_context(found), "refused": str(error)}
        return render(request, "supply/notice.html", context, status=422)
    messages.success(request, "The notice is withdrawn.")
    return redirect(found)


@login_not_required
@require_safe
@public_page
def public_notices(request: HttpRequest) -> HttpResponse:
    """Show the public notices to anybody."""
    base = "desk_base.html" if request.user.is_authenticated else "public/base.html"
    context = {"notices": overview.list_public_notices(), "base": base, "tab": "notices"}
    response = render(request, "supply/public_notices.html", context)
    is_personal = bool(request.COOKIES) or request.user.is_authenticated
    keep = "no-store, private" if is_personal else f"public, max-age={FRESH_S}"
    response["Cache-Control"] = keep
    patch_vary_headers(response, ["Cookie"])
    return response


@login_not_required
@require_safe
@public_page
def public_photo(
    request: HttpRequest, notice_id: int, photo_id: int, size: str
) -> HttpResponseBase:
    """Show a photo of a public notice, as long as its person agrees."""
    found = overview.find_public_photo(notice_id, photo_id)
    if found is None or size not in ("web", "thumb"):
        raise Http404("No such photo.")
    response = photo_response(found, size)
    response["Cache-Control"] = f"public, max-age={FRESH_S}"
    return response


def _get(notice_id: int) -> Notice:
    return get_object_or_404(Notice.objects.select_related(*WITH_SUBJECT), pk=notice_id)


def _words(form: NoticeForm) -> NoticeWords:
    data = form.cleaned_data
    return NoticeWords(
        title=data["title"], text=data["text"], fault=data["fault"], caution=data["caution"]
    )


def _context(found: Notice) -> dict[str, Any]:
    return {
        "shown": overview.show_notice(found),
        "notice": found,
        "needs": notices.list_notice_needs(found),
        "tab": "supply",
    }
