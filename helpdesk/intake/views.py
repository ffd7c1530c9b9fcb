"""The public report form."""

from typing import cast

from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import NON_FIELD_ERRORS
from django.core.files.uploadedfile import UploadedFile
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from helpdesk.core import limits
from helpdesk.core.errors import RefusedInputError
from helpdesk.core.http import announce, as_int, retry_after
from helpdesk.intake.forms import NewLinkForm, ReportForm
from helpdesk.intake.selectors import list_material_suggestions, list_suggestions
from helpdesk.intake.services import look_at_once, send_new_links, submit_report
from helpdesk.intake.understanding import Understanding, paused, take_says, understand
from helpdesk.photos.drafts import (
    KEY,
    TOO_MANY_PHOTOS,
    Refusal,
    clean_draft_key,
    new_draft_key,
    take_uploads,
    upload_context,
)
from helpdesk.photos.responses import photo_response
from helpdesk.photos.selectors import find_draft_photo
from helpdesk.photos.services import receive_photo, remove_photo

# These stand folded away until one of them has something to show.
SETTINGS = (
    "material_maker",
    "batch",
    "layer_height_mm",
    "nozzle_mm",
    "nozzle_c",
    "bed_c",
    "speed_mm_s",
)
TRAPPED = (
    "A field that people do not see was filled in, perhaps by a helper in your browser. "
    "We have emptied it. Please send the form once more."
)
TOO_MANY_REPORTS = (
    "Very many reports have come from your connection within the hour. Everything you wrote is "
    "still here: please send it again in a few minutes."
)
TOO_MANY = "That was asked very often from your connection. Please try again in a few minutes."


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def report(request: HttpRequest) -> HttpResponse:
    """Take a report; a refused form comes back with every word and photo it had."""
    if request.method == "POST":
        return _receive(request)
    response = _show(request, ReportForm(), new_draft_key())
    # Nothing private is in an empty form, and a browser may keep it for the way back.
    response["Cache-Control"] = "private, no-cache"
    response["X-Robots-Tag"] = "all"
    return response


@login_not_required
@require_POST
def understood(request: HttpRequest) -> HttpResponse:
    """Show what is understood of a form that is being filled in; nothing of it is kept."""
    visitor = limits.address_of(request)
    if not limits.spend(limits.PREVIEWS, visitor):
        response = _say(request, TOO_MANY, status=429)
        return retry_after(response, limits.seconds_until_room(limits.PREVIEWS, visitor))
    found = understand(request.POST)
    response = render(request, "intake/_understood.html", {"understood": found})
    return announce(response, found.summary)


@login_not_required
@require_POST
def upload_photo(request: HttpRequest) -> HttpResponse:
    """Keep one photo of an unsent form; answers with its entry, or with a sentence (422)."""
    key = request.POST.get("draft_key", "")
    file = request.FILES.get("photo")
    if not KEY.fullmatch(key):
        return _say(request, "The form is too old. Please load the page again.", status=422)
    if file is None:
        return _say(request, "No photo arrived. Please choose it again.", status=422)
    if not limits.spend(limits.UPLOADS, limits.address_of(request)):
        return _say(request, TOO_MANY_PHOTOS, status=429)
    try:
        photo = receive_photo(
            cast("UploadedFile[bytes]", file), label=file.name or "", draft_key=key
        )
    except RefusedInputError as error:
        return _say(request, str(error), status=422)
    return render(request, "intake/_photo.html", {"photo": photo, "draft_key": key})


@login_not_required
@require_POST
def remove_draft_photo(request: HttpRequest) -> HttpResponse:
    """Remove one photo of an unsent form; one that is gone already is no fault."""
    key, photo_id = request.POST.get("draft_key", ""), as_int(request.POST.get("remove"))
    photo = find_draft_photo(key, photo_id) if KEY.fullmatch(key) and photo_id else None
    if photo:
        remove_photo(photo)
    return HttpResponse(status=204)


@login_not_required
@require_safe
def draft_photo(request: HttpRequest, draft_key: str, photo_id: int) -> HttpResponseBase:
    """Show the thumbnail of a photo of an unsent form to whoever has the form."""
    photo = find_draft_photo(draft_key, photo_id) if KEY.fullmatch(draft_key) else None
    if photo is None:
        raise Http404("No such photo.")
    response = photo_response(photo, "thumb")
    response["Referrer-Policy"] = "no-referrer"
    return response


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def new_link(request: HttpRequest) -> HttpResponse:
    """Send a lost private link to the known address; the page says the same to everybody."""
    form = NewLinkForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        if limits.spend(limits.NEW_LINKS, limits.address_of(request)):
            send_new_links(form.cleaned_data["email"])
            return redirect("intake:link_sent")
        form.add_error(None, TOO_MANY)
    status = 422 if form.is_bound else 200
    if form.has_error(NON_FIELD_ERRORS):
        status = 429
    return render(request, "intake/new_link.html", {"form": form}, status=status)


@login_not_required
@require_safe
def link_sent(request: HttpRequest) -> HttpResponse:
    """Say that a letter is on its way if the address is known."""
    return render(request, "intake/link_sent.html")


@login_not_required
@require_safe
def erased(request: HttpRequest) -> HttpResponse:
    """Say that everything about a person was deleted."""
    return render(request, "intake/erased.html")


def _is_look(request: HttpRequest) -> bool:
    """Return True when a button of the panel was pressed, which without JavaScript sends all."""
    is_asked = request.POST.get("do") == "understood"
    return is_asked or "not_so" in request.POST or "so" in request.POST


def _receive(request: HttpRequest) -> HttpResponse:
    """Keep the photos of a form, then its words; or show it again."""
    key = clean_draft_key(request.POST.get("draft_key", ""))
    refusals, is_photo_button = take_uploads(request, key)
    form = ReportForm(request.POST)
    if is_photo_button or _is_look(request):
        unchecked = ReportForm(initial=request.POST.dict())
        return _show(request, unchecked, key, refusals, status=422 if refusals else 200)
    if form.is_trapped():
        data = request.POST.copy()
        data["web_page"] = ""
        form = ReportForm(data)
        form.add_error(None, TRAPPED)
    if not form.is_valid() or refusals:
        return _show(request, form, key, refusals, status=422)
    visitor = limits.address_of(request)
    if not limits.spend(limits.REPORTS, visitor):
        form.add_error(None, TOO_MANY_REPORTS)
        response = _show(request, form, key, status=429)
        return retry_after(response, limits.seconds_until_room(limits.REPORTS, visitor))
    try:
        submission = submit_report(
            form.new_report(f"web:{key}"), draft_key=key, says=take_says(request.POST)
        )
    except RefusedInputError as error:
        refusals = [Refusal(target="photos", text=str(error))]
        return _show(request, form, key, refusals, status=422)
    if not submission.token:
        return redirect("intake:erased")
    look_at_once(submission.case)
    address = reverse("intake:track", args=[submission.token])
    return redirect(f"{address}?new=1" if submission.is_new else address)


def _show(
    request: HttpRequest,
    form: ReportForm,
    draft_key: str,
    refusals: list[Refusal] | None = None,
    *,
    status: int = 200,
) -> HttpResponse:
    """Show the form."""
    context = {
        "tab": "report",
        "form": form,
        "settings_open": any(form[name].errors or form[name].value() for name in SETTINGS),
        "machines": list_suggestions("machine"),
        "materials": list_material_suggestions(),
        "makers": list_suggestions("material_maker"),
        "understood": _look(request),
        **upload_context(draft_key, refusals or []),
    }
    return render(request, "intake/report.html", context, status=status)


def _look(request: HttpRequest) -> Understanding | None:
    """Return what is understood of a form that came back, None for a new one."""
    if request.method != "POST":
        return None
    is_allowed = limits.spend(limits.PREVIEWS, limits.address_of(request))
    return understand(request.POST) if is_allowed else paused(request.POST)


def _say(request: HttpRequest, words: str, *, status: int) -> HttpResponse:
    """Answer a script with one sentence."""
    return HttpResponse(words, status=status, content_type="text/plain; charset=utf-8")
