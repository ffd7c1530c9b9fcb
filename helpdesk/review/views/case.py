"""The case page and its record. Permissions: see it, review or produce; change it, review."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.views.decorators.http import require_GET, require_POST
from django.views.decorators.vary import vary_on_headers

from helpdesk.answers.selectors import list_sent_answers, list_sent_steps
from helpdesk.cases.errors import StaleCaseError, TransitionError
from helpdesk.cases.models import Case, CaseState
from helpdesk.cases.services import add_note, change_state, hand_on_case, update_facts
from helpdesk.core.errors import WrongStateError
from helpdesk.core.http import HtmxRequest, as_int, storable, wants_fragment
from helpdesk.diagnosis.opinions import has_open_opinion
from helpdesk.review.forms import FactsForm, NoteForm, OutcomeForm
from helpdesk.review.selectors import list_reviewers
from helpdesk.review.services import enter_outcome, keep_read_facts, reveal_contact
from helpdesk.review.views.common import (
    back_to,
    desk_people,
    get_case,
    reviewers_only,
    show_case,
    show_part,
    user_of,
)

REASON_LIMIT = 500


@dataclass(frozen=True)
class Difference:
    """A fact two people changed: what is saved and what the later one wrote."""

    label: str
    saved: str
    typed: str


@require_GET
@desk_people
@vary_on_headers("HX-Request", "HX-Target")
def case(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Show a case; htmx gets the photos alone when another one is chosen.

    Who is taking a second look at it goes there: the rest is for after that view is closed.
    """
    shown = get_case(number)
    if has_open_opinion(shown, user_of(request)):
        return redirect("agreement:second_look", number)
    if wants_fragment(request) and request.htmx.target == "case-photos":
        return show_part(request, shown, "review/_photos.html")
    return show_case(request, shown)


@require_POST
@reviewers_only
def facts(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Save changed facts; against an older version both versions are shown and nothing is lost."""
    shown = get_case(number)
    form = FactsForm(request.POST, instance=Case.objects.get(pk=number))
    if not form.is_valid():
        return _refuse_facts(request, shown, form)
    try:
        saved = _save_facts(form, number, request)
    except StaleCaseError as error:
        return _show_both(request, error.current, form)
    except ValidationError as error:
        form.add_error(None, error)
        return _refuse_facts(request, shown, form)
    if not wants_fragment(request):
        return back_to(request, saved, "The facts are saved.")
    return show_part(request, get_case(number), "review/_facts.html", said="The facts are saved.")


@require_POST
@reviewers_only
def read_facts(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Keep what was read in the person's words where the case has no fact of its own."""
    filled = keep_read_facts(get_case(number), actor=user_of(request))
    names = ", ".join(f"{fact.label} {fact.shown}" for fact in filled)
    said = f"Kept from their words: {names}." if filled else "Everything read is a fact already."
    if not wants_fragment(request):
        return back_to(request, get_case(number), said)
    return show_part(request, get_case(number), "review/_facts.html", said=said)


@require_POST
@reviewers_only
def note(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Keep a note between people of the desk."""
    shown = get_case(number)
    form = NoteForm(request.POST)
    if not form.is_valid():
        return show_part(request, shown, "review/_notes.html", status=422, note_form=form)
    add_note(shown, body=form.cleaned_data["body"], author=user_of(request))
    if not wants_fragment(request):
        return back_to(request, shown, "The note is kept.", part="notes")
    return show_part(request, shown, "review/_notes.html", said="The note is kept.")


@require_POST
@reviewers_only
def outcome(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Keep what the person told us elsewhere of how it went."""
    shown = get_case(number)
    form = OutcomeForm(request.POST, steps=list_sent_steps(list(list_sent_answers(shown))))
    if not form.is_valid():
        return show_case(request, shown, status=422, outcome_form=form)
    try:
        enter_outcome(shown, **form.cleaned_data, actor=user_of(request))
    except WrongStateError as error:
        messages.error(request, str(error))
        return show_case(request, shown, status=409)
    return back_to(request, shown, "The outcome is kept.", part="record")


@require_POST
@reviewers_only
def hand_on(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Give a case to a colleague, or put it back for anybody."""
    shown = get_case(number)
    wanted = request.POST.get("to", "")
    people = {person.pk: person for person in list_reviewers()}
    to = people.get(as_int(wanted) or 0)
    if wanted and to is None:
        messages.error(request, "That person does not review cases. Choose somebody from the list.")
        return show_case(request, shown, status=422)
    hand_on_case(shown, actor=user_of(request), to=to, why=_reason(request))
    words = f"{to.short_name} has this case now." if to else "Anybody may take this case now."
    return back_to(request, shown, words)


@require_POST
@reviewers_only
def close(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Close a case, with a reason."""
    return _move(request, number, CaseState.CLOSED, "The case is closed.")


@require_POST
@reviewers_only
def reopen(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Bring a case back to the desk."""
    return _move(request, number, CaseState.RECEIVED, "The case is open again.")


@require_POST
@desk_people
def reveal(request: HtmxRequest, number: int) -> HttpResponse:
    """Show how the person can be reached, and note who looked."""
    shown = get_case(number)
    reveal_contact(shown, actor=user_of(request))
    return show_part(request, shown, "review/_contact.html", contact_shown=True)


def _move(request: HtmxRequest, number: int, state: str, words: str) -> HttpResponseBase:
    """Change the state, or say why that step is not there."""
    shown = get_case(number)
    try:
        change_state(shown, state, actor=user_of(request), why=_reason(request))
    except TransitionError:
        messages.error(request, "Somebody moved this case meanwhile; here it is as it stands now.")
        return show_case(request, get_case(number), status=409)
    return back_to(request, shown, words)


def _reason(request: HtmxRequest) -> str:
    return storable(request.POST.get("why", "")).strip()[:REASON_LIMIT]


def _save_facts(form: FactsForm, number: int, request: HtmxRequest) -> Case:
    """Save what was changed; a version that moved on without touching a fact does not matter."""
    user, version = user_of(request), form.cleaned_data["version"]
    if not form.changes:
        return get_case(number)
    try:
        return update_facts(number, form.changes, version=version, actor=user)
    except StaleCaseError as error:
        if _touched_facts(form, error.current):
            raise
        return update_facts(number, form.changes, version=error.current.version, actor=user)


def _touched_facts(form: FactsForm, current: Case) -> bool:
    """Return True when a fact is saved otherwise than it stood when this form was shown."""
    return any(_was(form, name) != _plain(getattr(current, name)) for name in FactsForm.Meta.fields)


def _was(form: FactsForm, name: str) -> str | None:
    """Return how a fact stood when the form was shown, or None when it does not say so."""
    raw = form.data.get(form.add_initial_prefix(name))
    if raw is None:
        return None
    try:
        return _plain(form.fields[name].to_python(raw))
    except ValidationError:
        return None


def _show_both(request: HtmxRequest, current: Case, form: FactsForm) -> HttpResponse:
    """Show what is saved beside what was typed; saving again is done knowingly."""
    typed = form.changes
    data = {**_values(current), **{name: _plain(value) for name, value in typed.items()}}
    data |= {form.add_initial_prefix(name): v for name, v in _values(current).items()}
    again = FactsForm({**data, "version": current.version}, instance=current)
    current = get_case(current.pk)
    return show_part(
        request,
        current,
        "review/_facts.html",
        status=409,
        said="Somebody saved these facts while you were writing. Here are both versions.",
        facts_form=again,
        differences=_differences(current, form),
        saved_by=_last_saved_by(current),
        facts_open=True,
    )


def _differences(current: Case, form: FactsForm) -> Sequence[Difference]:
    """Return the facts in which the saved version and the typed one differ."""
    return [
        Difference(
            label=str(form.fields[name].label),
            saved=_plain(getattr(current, name)),
            typed=_plain(value),
        )
        for name, value in form.changes.items()
        if _plain(getattr(current, name)) != _plain(value)
    ]


def _last_saved_by(case: Case) -> str:
    """Return who changed the facts last."""
    event = case.events.filter(kind="facts").order_by("-at", "-pk").first()
    return event.actor_name if event else "Somebody"


def _refuse_facts(request: HtmxRequest, case: Case, form: FactsForm) -> HttpResponse:
    said = "The facts are not saved yet: please change what is marked."
    return show_part(
        request,
        case,
        "review/_facts.html",
        status=422,
        said=said,
        facts_form=form,
        facts_open=True,
    )


def _values(case: Case) -> dict[str, str]:
    """Return the facts of a case as a form holds them."""
    return {name: _plain(getattr(case, name)) for name in FactsForm.Meta.fields}


def _plain(value: object) -> str:
    """Return a fact as a form field prints it."""
    if isinstance(value, float):
        return f"{value:g}"
    return "" if value is None else str(value).replace("\r\n", "\n").strip()
