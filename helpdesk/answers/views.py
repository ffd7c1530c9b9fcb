"""The answer panel of a case. Permissions: review cases, to change anything."""

from typing import Any, cast

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpResponse, HttpResponseBase, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST
from django.views.decorators.vary import vary_on_headers

from helpdesk.accounts.access import needs_any
from helpdesk.accounts.models import User
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES
from helpdesk.answers.errors import (
    AlreadySentError,
    CautionsChangedError,
    NotPublishableError,
    StaleAnswerError,
)
from helpdesk.answers.forms import DraftForm, SentElsewhereForm
from helpdesk.answers.joined import describe_passing
from helpdesk.answers.letters import Letter
from helpdesk.answers.models import Answer
from helpdesk.answers.panel import (
    channel_of,
    make_draft_form,
    make_publish_form,
    preview_letter,
)
from helpdesk.answers.pieces import cut_letter
from helpdesk.answers.publishing import publish_answer, unpublish_answer
from helpdesk.answers.selectors import get_answer, get_panel
from helpdesk.answers.services import (
    bring_back_text,
    compose_unsaved,
    draft_answer,
    read_letter,
    redraft_answer,
    save_draft,
    send_answer,
)
from helpdesk.cases.models import Case, Channel
from helpdesk.core.errors import DeskError, RefusedInputError, WrongStateError
from helpdesk.core.http import HtmxRequest, announce, as_int, wants_fragment
from helpdesk.outbox.deliveries import is_carried

reviewers_only = permission_required(REVIEW_CASES, raise_exception=True)


@require_GET
@needs_any(REVIEW_CASES, PRODUCE_EPISODES)
@vary_on_headers("HX-Request")
def panel(request: HtmxRequest, number: int) -> HttpResponse:
    """Show the answer of a case; htmx gets the panel alone."""
    case = get_object_or_404(Case, pk=number)
    extra = _pieces_of(case, _user(request)) if "copy" in request.GET else {}
    return _show(request, case, **extra)


@require_POST
@reviewers_only
def draft(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Write a draft from verdict and plan, write it anew, or bring the earlier text back."""
    case = get_object_or_404(Case, pk=number)
    user = _user(request)
    step = request.POST.get("step", "")
    try:
        if step in ("anew", "back"):
            act = redraft_answer if step == "anew" else bring_back_text
            answer = _posted_answer(request, case)
            act(answer.pk, as_int(request.POST.get("version")) or 0, user)
        else:
            draft_answer(case, user)
    except AlreadySentError as error:
        return _already_sent(request, case, error)
    except StaleAnswerError as error:
        return _stale(request, case, error)
    except WrongStateError as error:
        return _show(request, case, status=409, notice=str(error))
    said = {
        "anew": "The desk wrote the answer anew. The earlier text can be brought back.",
        "back": "The earlier text is back.",
    }
    return _done(request, case, said.get(step, "The desk wrote a draft. Please read it."))


@require_POST
@reviewers_only
def save(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Save the draft; with "then=copy" show it in pieces for a channel without mail."""
    case = get_object_or_404(Case, pk=number)
    user = _user(request)
    answer = _posted_answer(request, case)
    form = make_draft_form(answer, request.POST)
    if not form.is_valid():
        return _show(request, case, status=422, typed_form=form)
    try:
        saved = save_draft(answer.pk, form.text, form.cleaned_data["version"], user)
    except AlreadySentError as error:
        return _already_sent(request, case, error, form)
    except StaleAnswerError as error:
        return _stale(request, case, error, form)
    if saved.put_in:
        return _show(request, case, put_in=saved.put_in, said="Saved, with cautions put back.")
    if request.POST.get("then") == "copy":
        if not wants_fragment(request):
            return redirect(reverse("answers:panel", args=[case.pk]) + "?copy=1#answer-pieces")
        return _show(request, case, said="Ready to copy.", **_pieces_of(case, user))
    return _done(request, case, "Draft saved.")


@require_POST
@reviewers_only
def preview(request: HtmxRequest, number: int) -> HttpResponse:
    """Show the words typed so far as their reader will see them; nothing is saved."""
    case = get_object_or_404(Case, pk=number)
    answer = _posted_answer(request, case)
    form = make_draft_form(answer, request.POST)
    letter = _typed_letter(answer, form, _user(request))
    if wants_fragment(request):
        return render(request, "answers/_preview.html", {"letter": letter, "case": case})
    return _show(request, case, typed_form=form, typed_letter=letter)


@require_POST
@reviewers_only
def send(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Save the draft and send it by mail or by a program, once, however often it is pressed."""
    case = get_object_or_404(Case, pk=number)
    answer = _posted_answer(request, case)
    form = make_draft_form(answer, request.POST)
    if not form.is_valid():
        return _show(request, case, status=422, typed_form=form)
    try:
        send_answer(
            answer.pk,
            form.cleaned_data["version"],
            _user(request),
            case.reply_channel if is_carried(case) else Channel.MAIL,
            text=form.text,
            follow_up_days=form.cleaned_data["follow_up_days"],
        )
    except DeskError as error:
        return _not_sent(request, case, error, form)
    words = "The answer is on its way." + describe_passing(case)
    return _done(request, case, words, is_sent=True)


@require_POST
@reviewers_only
def sent_elsewhere(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Note that the saved draft was passed on by another channel."""
    case = get_object_or_404(Case, pk=number)
    answer = _posted_answer(request, case)
    form = SentElsewhereForm(request.POST)
    if not form.is_valid():
        notice = "Please choose the channel you sent the answer by."
        return _show(request, case, status=422, notice=notice, **_pieces_of(case, _user(request)))
    data = form.cleaned_data
    try:
        send_answer(
            answer.pk,
            data["version"],
            _user(request),
            data["via"],
            follow_up_days=data["follow_up_days"],
        )
    except DeskError as error:
        return _not_sent(request, case, error)
    words = "Noted: you have sent the answer." + describe_passing(case)
    return _done(request, case, words, is_sent=True)


@require_POST
@reviewers_only
def publish(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Show a sent answer in the public library."""
    case = get_object_or_404(Case, pk=number)
    answer = _posted_answer(request, case)
    form = make_publish_form(answer, request.POST)
    refusal = ""
    if form.is_valid():
        try:
            publish_answer(answer.pk, form.publication, _user(request))
        except NotPublishableError as error:
            refusal = str(error)
        else:
            return _done(request, case, "The answer is in the library now.")
    return _show(
        request, case, status=422, typed_publish_form=form, publish_refusal=refusal, said=refusal
    )


@require_POST
@reviewers_only
def unpublish(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Take an answer out of the public library."""
    case = get_object_or_404(Case, pk=number)
    unpublish_answer(_posted_answer(request, case).pk, _user(request))
    return _done(request, case, "The answer is no longer in the library.")


def _user(request: HtmxRequest) -> User:
    return cast(User, request.user)


def _posted_answer(request: HtmxRequest, case: Case) -> Answer:
    """Return the answer a form belongs to; one of another case does not exist here."""
    try:
        return get_answer(case, as_int(request.POST.get("answer")) or 0)
    except Answer.DoesNotExist as error:
        raise Http404("This case has no such answer.") from error


def _typed_letter(answer: Answer, form: DraftForm, user: User) -> Letter:
    """Return the letter of unsaved words, with the closing of the saved one."""
    typed = compose_unsaved(answer, form.text)
    closing = preview_letter(answer, user).closing
    return Letter(typed.dangers, typed.paragraphs, typed.cautions, closing)


def _pieces_of(case: Case, user: User) -> dict[str, Any]:
    """Return the saved draft in pieces for its channel, as context."""
    answer = case.answers.filter(sent_at__isnull=True).first()
    if answer is None:
        return {}
    via = channel_of(case)
    via = Channel.CHAT if via == Channel.MAIL else via
    pieces = cut_letter(read_letter(answer, user, via=via), answer.length_limit)
    form = SentElsewhereForm(
        initial={"answer": answer.pk, "version": answer.version, "via": via},
        auto_id="elsewhere-%s",
    )
    return {"pieces": pieces, "elsewhere_form": form}


def _not_sent(
    request: HtmxRequest, case: Case, error: DeskError, form: DraftForm | None = None
) -> HttpResponseBase:
    """Show why an answer did not go out, with everything typed still there."""
    if isinstance(error, AlreadySentError):
        return _already_sent(request, case, error, form)
    if isinstance(error, StaleAnswerError):
        return _stale(request, case, error, form)
    if isinstance(error, CautionsChangedError):
        said = "Not sent yet: a caution was put in. Please read it and send again."
        return _show(request, case, status=409, put_in=error.cautions, said=said, not_sent=True)
    if isinstance(error, RefusedInputError | WrongStateError):
        return _show(request, case, status=422, notice=str(error), typed_form=form)
    raise error


def _stale(
    request: HtmxRequest, case: Case, error: StaleAnswerError, form: DraftForm | None = None
) -> HttpResponse:
    """Show both texts; saving again with the newer version overwrites knowingly."""
    typed = None
    if form is not None:
        data = cast(QueryDict, form.data).copy()
        data["version"] = str(error.current.version)
        typed = make_draft_form(error.current, data)
    said = "Somebody saved this answer while you were writing. Here are both texts."
    return _show(request, case, status=409, conflict=error.current, typed_form=typed, said=said)


def _already_sent(
    request: HtmxRequest, case: Case, error: AlreadySentError, form: DraftForm | None = None
) -> HttpResponse:
    """Show the answer that went out; other words are shown too, so that they are not lost."""
    lost = form.text.body if form is not None else ""
    is_same = error.answer.body.split() == lost.split()
    status = 200 if is_same or not lost else 409
    said = "This answer has been sent already; nothing was sent twice."
    return _show(
        request, case, status=status, notice=said, said=said, unsent="" if is_same else lost
    )


def _done(
    request: HtmxRequest, case: Case, words: str, *, is_sent: bool = False
) -> HttpResponseBase:
    """Show the panel again, or go back to the case page."""
    if wants_fragment(request):
        response = _show(request, case, said=words, is_sent=is_sent)
        response["HX-Trigger"] = "case-changed"
        return response
    messages.success(request, words)
    return redirect(case.get_absolute_url() + "#answer")


def _show(
    request: HtmxRequest, case: Case, *, status: int = 200, said: str = "", **extra: Any
) -> HttpResponse:
    """Render the panel, alone for htmx, else as a page of its own."""
    case.refresh_from_db()
    is_fragment = wants_fragment(request)
    name = "answers/_panel.html" if is_fragment else "answers/answer.html"
    context = {
        "case": case,
        "answer_panel": get_panel(case),
        "tab": "queue",
        "is_fragment": is_fragment,
        **{key: value for key, value in extra.items() if value is not None},
    }
    response = render(request, name, context, status=status)
    return announce(response, said) if said else response
