"""Recurring texts. Permissions: write them, run the desk; copy them, review cases."""

from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST
from django.views.decorators.vary import vary_on_headers

from helpdesk.accounts.models import User
from helpdesk.accounts.roles import REVIEW_CASES, RUN_DESK
from helpdesk.cases.models import Case
from helpdesk.conversation.errors import StaleTextError
from helpdesk.conversation.forms import SetTextForm
from helpdesk.conversation.models import BODY_LIMIT, SetText
from helpdesk.conversation.placeholders import PLACEHOLDERS, fill_example
from helpdesk.conversation.previews import preview
from helpdesk.conversation.selectors import list_filled, list_texts
from helpdesk.conversation.services import drop_text, make_text, save_text
from helpdesk.core.http import HtmxRequest, as_int, storable, wants_fragment

runners_only = permission_required(RUN_DESK, raise_exception=True)
reviewers_only = permission_required(REVIEW_CASES, raise_exception=True)


@require_GET
@runners_only
def texts(request: HttpRequest) -> HttpResponse:
    """List the recurring texts."""
    return render(request, "conversation/texts.html", {"texts": list_texts(), "tab": "outbox"})


@require_http_methods(["GET", "POST"])
@runners_only
def new_text(request: HttpRequest) -> HttpResponseBase:
    """Write a new text."""
    form = SetTextForm(request.POST if request.method == "POST" else None)
    if request.method != "POST" or "preview" in request.POST or not form.is_valid():
        return _show_form(request, form, None)
    data = form.cleaned_data
    made = make_text(
        title=data["title"], kind=data["kind"], body=data["body"], actor=_user(request)
    )
    messages.success(request, f"“{made.title}” is kept.")
    return redirect("conversation:texts")


@require_http_methods(["GET", "POST"])
@runners_only
def edit_text(request: HttpRequest, text_id: int) -> HttpResponseBase:
    """Change a text; against an older version both are shown and nothing is lost."""
    text = get_object_or_404(SetText, pk=text_id)
    if request.method != "POST":
        names = ("title", "kind", "body", "version")
        initial = {name: getattr(text, name) for name in names}
        return _show_form(request, SetTextForm(initial=initial, text_id=text_id), text)
    form = SetTextForm(request.POST, text_id=text_id)
    if "preview" in request.POST or not form.is_valid():
        return _show_form(request, form, text)
    try:
        saved = save_text(text_id, **form.cleaned_data, actor=_user(request))
    except StaleTextError as error:
        typed = {**request.POST.dict(), "version": error.current.version}
        again = SetTextForm(typed, text_id=text_id)
        return _show_form(request, again, error.current, conflict=error.current)
    messages.success(request, f"“{saved.title}” is kept.")
    return redirect("conversation:texts")


@require_POST
@runners_only
def drop(request: HttpRequest, text_id: int) -> HttpResponseBase:
    """Delete a text."""
    text = get_object_or_404(SetText, pk=text_id)
    try:
        drop_text(text_id, version=as_int(request.POST.get("version")) or 0)
    except StaleTextError:
        messages.error(request, "Somebody has just changed this text, so it was not deleted.")
        return redirect(text)
    messages.success(request, f"“{text.title}” is deleted.")
    return redirect("conversation:texts")


@require_POST
@runners_only
def preview_text(request: HttpRequest) -> HttpResponse:
    """Show a text in every channel, filled for an invented case, while it is written."""
    words = storable(request.POST.get("body", ""))[:BODY_LIMIT]
    context = {"previews": preview(fill_example(words))}
    return render(request, "conversation/_previews.html", context)


@require_GET
@reviewers_only
@vary_on_headers("HX-Request")
def copy_texts(request: HtmxRequest, number: int) -> HttpResponse:
    """Show the texts filled for a case; the case page fetches the list to choose from."""
    case = get_object_or_404(Case, pk=number)
    box = request.GET.get("box", "ask")
    filled = list_filled(case, _user(request), box=box)
    chosen_id = as_int(request.GET.get("text"))
    chosen = next((each for each in filled if each.text.pk == chosen_id), None)
    context = {
        "case": case,
        "filled": filled,
        "chosen": chosen,
        "previews": preview(chosen.words) if chosen else (),
        "tab": "queue",
    }
    is_part = wants_fragment(request)
    name = "conversation/_choose.html" if is_part else "conversation/copy_texts.html"
    return render(request, name, context)


def _show_form(
    request: HttpRequest,
    form: SetTextForm,
    text: SetText | None,
    *,
    conflict: SetText | None = None,
) -> HttpResponse:
    """Show a text's form with its placeholders and previews."""
    words = storable(str(form["body"].value() or ""))[:BODY_LIMIT]
    context = {
        "form": form,
        "text": text,
        "conflict": conflict,
        "placeholders": PLACEHOLDERS.items(),
        "previews": preview(fill_example(words)),
        "tab": "outbox",
    }
    status = 409 if conflict else 422 if form.errors and "preview" not in request.POST else 200
    return render(request, "conversation/text_form.html", context, status=status)


def _user(request: HttpRequest) -> User:
    return cast(User, request.user)
