"""Entering a report by hand."""

from collections.abc import Mapping
from typing import Any, cast

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST
from django.views.decorators.vary import vary_on_headers

from helpdesk.accounts.models import User
from helpdesk.accounts.roles import REVIEW_CASES
from helpdesk.capture.forms import PasteForm
from helpdesk.capture.proposals import propose
from helpdesk.capture.selectors import find_made_case, list_known
from helpdesk.capture.services import ToldConsent, enter_report
from helpdesk.core.errors import RefusedInputError
from helpdesk.core.http import announce, as_int, storable, wants_fragment
from helpdesk.core.storage import named
from helpdesk.incoming.values import Attachment
from helpdesk.photos.drafts import (
    Refusal,
    clean_draft_key,
    new_draft_key,
    take_uploads,
    upload_context,
)
from helpdesk.photos.limits import MAX_BYTES_WORDS
from helpdesk.photos.uploads import OversizeFile

REMEMBERED = "capture"  # the name in the session of what is filled in next time
REMEMBERED_FIELDS = ("channel", "handle_where")


@permission_required(REVIEW_CASES, raise_exception=True)
@require_http_methods(["GET", "HEAD", "POST"])
@vary_on_headers("HX-Request")
def paste(request: HttpRequest) -> HttpResponse:
    """Take one report; a refused form comes back with every word and photo it had."""
    if request.method == "POST":
        return _receive(request)
    form = PasteForm(initial=request.session.get(REMEMBERED, {}))
    made = find_made_case(as_int(request.GET.get("made")))
    return _show(request, form, new_draft_key(), made=made)


@permission_required(REVIEW_CASES, raise_exception=True)
@require_POST
def look(request: HttpRequest) -> HttpResponse:
    """Show what pasted words may be and which cases they resemble; nothing is kept."""
    context = _seen(request.POST)
    response = render(request, "capture/_seen.html", context)
    return announce(response, context["seen_words"]) if context["seen_words"] else response


def _receive(request: HttpRequest) -> HttpResponse:
    """Fill the form from a proposal that was taken, or keep the report."""
    key = clean_draft_key(request.POST.get("draft_key", ""))
    refusals, is_photo_button = take_uploads(request, key)
    taken = propose(storable(request.POST.get("words", ""))).take(request.POST.get("take", ""))
    if taken or is_photo_button or "take" in request.POST or request.POST.get("do") == "look":
        form = PasteForm(initial=request.POST.dict() | dict(taken))
        return _show(request, form, key, refusals, status=422 if refusals else 200)
    form = PasteForm(request.POST)
    attachments, oversize = _take_files(request)
    refusals += oversize
    if not form.is_valid() or refusals:
        return _show(request, form, key, refusals, status=422)
    told = ToldConsent(form.consent, form.quoted) if form.quoted else None
    try:
        report = enter_report(
            form.new_report(f"paste:{key}"),
            actor=cast(User, request.user),
            draft_key=key,
            attachments=attachments,
            told=told,
        )
    except RefusedInputError as error:
        return _show(request, form, key, [Refusal(target="photos", text=str(error))], status=422)
    request.session[REMEMBERED] = {name: form.cleaned_data[name] for name in REMEMBERED_FIELDS}
    for why in report.kept.refusals:
        messages.warning(request, why)
    return redirect(f"{reverse('capture:paste')}?made={report.case.pk}")


def _take_files(request: HttpRequest) -> tuple[list[Attachment], list[Refusal]]:
    """Return the files that came whole, and a sentence for each that was too large."""
    attachments, refusals = [], []
    for upload in request.FILES.getlist("files"):
        file = cast("UploadedFile[bytes]", upload)
        if isinstance(file, OversizeFile):
            words = f"{named(file.name or '')} is larger than {MAX_BYTES_WORDS}. Please pack it."
            refusals.append(Refusal(target="files", text=words))
        else:
            attachments.append(Attachment(label=file.name or "", file=file))
    return attachments, refusals


def _show(
    request: HttpRequest,
    form: PasteForm,
    draft_key: str,
    refusals: list[Refusal] | None = None,
    *,
    made: Any = None,
    status: int = 200,
) -> HttpResponse:
    """Show the form, or the part of it that a proposal fills."""
    source = request.POST if request.method == "POST" else {}
    filled = form.initial if not form.is_bound else source
    context = {
        "tab": "capture",
        "form": form,
        "made": made,
        **_seen(filled),
        **upload_context(draft_key, [r for r in refusals or [] if r.target == "photos"]),
        "file_refusals": [r for r in refusals or [] if r.target == "files"],
        "all_refusals": refusals or [],
    }
    name = "capture/_who.html" if wants_fragment(request) else "capture/paste.html"
    return render(request, name, context, status=status)


def _seen(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the panel beside the words shows, and one sentence of it to be spoken."""
    proposal = propose(storable(str(values.get("words", ""))))
    note = proposal.note
    link = storable(str(values.get("link", ""))).strip() or (note.link if note else "")
    cases = list_known(link=link, key=note.key if note else "")
    words = []
    if cases:
        words.append("Perhaps this is here already: " + ", ".join(f"case {c.pk}" for c in cases))
    if proposal.speakers:
        words.append("This looks like a chat of " + ", ".join(s.name for s in proposal.speakers))
    if note:
        words.append("This is the note behind a post")
    return {"proposal": proposal, "likely": cases, "seen_words": ". ".join(words)}
