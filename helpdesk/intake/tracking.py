"""The private page of a case, for the person who sent it. Opening it changes nothing."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from helpdesk.answers.forms import OTHER_STEPS
from helpdesk.answers.selectors import list_sent_answers, list_sent_steps
from helpdesk.cases.models import NOT_KNOWN, SOMETHING_ELSE, Case, OutcomeResult
from helpdesk.cases.outcomes import HELPED, name_step, tap_outcome, tell_outcome
from helpdesk.core import limits
from helpdesk.core.errors import RefusedInputError, WrongStateError
from helpdesk.core.http import retry_after
from helpdesk.intake.access import private_page
from helpdesk.intake.forms import ChangeConsentForm, OutcomeForm, ReplyForm
from helpdesk.intake.selectors import get_tracking
from helpdesk.intake.services import (
    SEEN_FIELD,
    STATES,
    change_consent,
    erase,
    look_at_once,
    receive_reply,
)
from helpdesk.keeping.erasing import finish_erasure
from helpdesk.keeping.exports import copy_response, stream_copy
from helpdesk.outbox.models import LINK_MARK
from helpdesk.outbox.services import private_address
from helpdesk.photos.drafts import (
    Refusal,
    clean_draft_key,
    new_draft_key,
    take_uploads,
    upload_context,
)
from helpdesk.photos.responses import photo_response
from helpdesk.photos.selectors import list_draft

NOTHING_SAID = "There is nothing in the reply yet. Please answer a question, write or add a photo."
TOO_MANY_REPLIES = (
    "Very many replies have come to this page within the hour. What you wrote is still here: "
    "please send it again in a few minutes."
)
REPLY_KEPT = "Thank you, your reply is safe with us. It is our turn now."
CONSENT_KEPT = "Your choice is kept. You can change it on any day."
OUTCOME_KEPT = "Thank you for telling us how it went."


@require_safe
@private_page
def track(request: HttpRequest, case: Case, token: str) -> HttpResponse:
    """Show where a print is, what is asked, what was answered and what may be shown."""
    return _show(request, case, token)


@require_POST
@private_page
def reply(request: HttpRequest, case: Case, token: str) -> HttpResponse:
    """Keep what the person answers, adds and sends."""
    key = clean_draft_key(request.POST.get("draft_key", ""))
    refusals, is_photo_button = take_uploads(request, key)
    form = ReplyForm(request.POST)
    seen = {
        name.removeprefix(SEEN_FIELD): state
        for name, state in request.POST.items()
        if name.startswith(SEEN_FIELD) and state in STATES
    }
    again: dict[str, Any] = {"draft_key": key, "refusals": refusals, "seen": seen}
    if not is_photo_button and not limits.spend(limits.REPLIES, str(case.pk)):
        form.add_error(None, TOO_MANY_REPLIES)
        return _show(request, case, token, reply_form=form, status=429, **again)
    if is_photo_button:
        unchecked = ReplyForm(initial={"words": request.POST.get("words", "")})
        status = 422 if refusals else 200
        return _show(request, case, token, reply_form=unchecked, status=status, **again)
    has_content = bool(form.data.get("words", "").strip() or seen or list_draft(key))
    if not has_content and not refusals:
        form.add_error("words", NOTHING_SAID)
    if not form.is_valid() or refusals:
        return _show(request, case, token, reply_form=form, status=422, **again)
    try:
        receive_reply(case.pk, words=form.cleaned_data["words"], seen=seen, draft_key=key)
    except RefusedInputError as error:
        again["refusals"] = [Refusal(target="photos", text=str(error))]
        return _show(request, case, token, reply_form=form, status=422, **again)
    look_at_once(case)
    messages.success(request, REPLY_KEPT)
    return redirect("intake:track", token)


@require_POST
@private_page
def outcome(request: HttpRequest, case: Case, token: str) -> HttpResponse:
    """Keep whether what was advised worked, and which step did it: pressed, or told in words."""
    if "tap" in request.POST or "step" in request.POST:
        return _keep_press(request, case, token)
    form = OutcomeForm(request.POST, steps=list_sent_steps(list(list_sent_answers(case))))
    if not form.is_valid():
        return _show(request, case, token, outcome_form=form, status=422)
    said = form.cleaned_data
    tell_outcome(case.pk, result=said["result"], remedy=said["remedy"], words=said["outcome_words"])
    messages.success(request, OUTCOME_KEPT)
    return redirect("intake:track", token)


@require_http_methods(["GET", "HEAD", "POST"])
@private_page
def consent(request: HttpRequest, case: Case, token: str) -> HttpResponse:
    """Change or withdraw what may be shown; a guardian agrees here."""
    form = ChangeConsentForm(request.POST or None, case=case)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        change_consent(
            case.pk,
            form.consent(is_under_16=form.is_under_16()),
            guardian_name=data["guardian_name"] if data["guardian_agrees"] else "",
        )
        messages.success(request, CONSENT_KEPT)
        return redirect("intake:track", token)
    context = {"case": case, "token": token, "form": form}
    return render(request, "intake/consent.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@private_page
def erase_case(request: HttpRequest, case: Case, token: str) -> HttpResponse:
    """Ask once, then delete everything about the person."""
    if request.method == "POST":
        erase(case.pk)
        finish_erasure(case.pk)
        return redirect("intake:erased")
    return render(request, "intake/erase.html", {"case": case, "token": token})


@require_POST
@private_page
def copy_case(request: HttpRequest, case: Case, token: str) -> HttpResponseBase:
    """Hand out everything of this case; the address of one case opens no other."""
    if not limits.spend(limits.COPIES, str(case.pk)):
        response = render(request, "429.html", status=429)
        return retry_after(response, limits.seconds_until_room(limits.COPIES, str(case.pk)))
    return copy_response(stream_copy([case]), name=f"case-{case.pk}")


@require_safe
@private_page
def track_photo(
    request: HttpRequest, case: Case, token: str, *, photo_id: int, size: str
) -> HttpResponseBase:
    """Show a photo to the person who sent it."""
    photo = case.photos.filter(pk=photo_id).first()
    if photo is None:
        raise Http404("No such photo.")
    return photo_response(photo, size)


def _keep_press(request: HttpRequest, case: Case, token: str) -> HttpResponse:
    """Keep a result, or the step that did it, that was said with one press."""
    result, remedy = request.POST.get("tap", ""), request.POST.get("step", "")
    steps = list_sent_steps(list(list_sent_answers(case)))
    try:
        if result in OutcomeResult.values:
            tap_outcome(case.pk, result=result)
        elif remedy in (*(step.id for step in steps), SOMETHING_ELSE, NOT_KNOWN):
            name_step(case.pk, remedy=remedy)
        else:
            return _show(request, case, token, status=422)
    except WrongStateError:  # something else was told meanwhile, in another window
        return _show(request, case, token, status=409)
    messages.success(request, OUTCOME_KEPT)
    return redirect("intake:track", token)


def _show(
    request: HttpRequest,
    case: Case,
    token: str,
    *,
    reply_form: ReplyForm | None = None,
    outcome_form: OutcomeForm | None = None,
    draft_key: str = "",
    refusals: list[Refusal] | None = None,
    seen: dict[str, str] | None = None,
    status: int = 200,
) -> HttpResponse:
    """Show the tracking page with the forms as they are."""
    case.refresh_from_db()
    view = get_tracking(case)
    if view.asked:
        for question in view.asked.questions:
            question["chosen"] = (seen or {}).get(question["finding"], "")
    for answer in view.answers:  # as it stood in the letter; nothing is saved
        answer.sent_text = answer.sent_text.replace(LINK_MARK, private_address(token))
    steps = list_sent_steps(view.answers)
    last = view.outcomes[-1] if view.outcomes else None
    needs_step = last is not None and last.result in HELPED and not last.remedy
    context = {
        "view": view,
        "case": case,
        "token": token,
        "address": private_address(token),
        "is_new": "new" in request.GET,
        "reply_form": reply_form or ReplyForm(),
        "outcome_form": outcome_form or OutcomeForm(steps=steps),
        "outcome_steps": [*((s.id, s.name) for s in steps), *OTHER_STEPS] if needs_step else [],
        **upload_context(draft_key or new_draft_key(), refusals or []),
    }
    return render(request, "intake/track.html", context, status=status)
