"""Weighing a case: findings, verdict and questions. Permission: review cases."""

import difflib
from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.core.exceptions import BadRequest
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from helpdesk.cases.errors import TransitionError
from helpdesk.cases.models import Case
from helpdesk.core.errors import RefusedInputError
from helpdesk.core.http import HtmxRequest, wants_fragment
from helpdesk.diagnosis import engine, services
from helpdesk.diagnosis.engine import list_tools
from helpdesk.diagnosis.models import FindingState
from helpdesk.diagnosis.selectors import list_numbers, list_verdicts
from helpdesk.review.forms import AskForm
from helpdesk.review.services import ask_person
from helpdesk.review.views.common import desk_people, get_case, reviewers_only, show_part, user_of

THINKING = "review/_thinking.html"
MOST_OFFERED = 4
Named = engine.FaultInfo | engine.FindingInfo


@require_POST
@reviewers_only
def mark_finding(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Set one finding and think again at once."""
    case = get_case(number)
    state = request.POST.get("state", "")
    words = request.POST.get("finding", "").strip()
    if state not in FindingState.values:
        raise BadRequest("A finding is present, absent or unknown.")
    known = engine.list_findings()
    found = find_named(known, words)
    if found is None:
        refusal = not_known(known, words, "finding")
        return show_refusal(request, case, finding_refusal=refusal, finding_typed=words)
    services.mark_finding(case, found.id, state, actor=user_of(request))
    event = case.events.filter(kind="finding").order_by("-at", "-pk").first()
    said = f"{found.name}: {state}. {event.why if event else ''}".strip()
    return show_done(request, number, said, part="weigh")


@require_POST
@reviewers_only
def verdict(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Confirm a fault, or take one back, with one press."""
    case = get_case(number)
    step = request.POST.get("step", "add")
    words = request.POST.get("fault", "").strip()
    known = engine.list_faults()
    found = find_named(known, words)
    if found is None:
        refusal = not_known(known, words, "fault")
        return show_refusal(request, case, fault_refusal=refusal, fault_typed=words)
    chosen = [entry.fault for entry in list_verdicts(case) if entry.fault != found.id]
    if step == "add":
        chosen.append(found.id)
    elif step == "first":
        chosen.insert(0, found.id)
    elif step != "drop":
        raise BadRequest("A fault is added, put first or taken back.")
    try:
        services.set_verdict(case, chosen, actor=user_of(request))
    except RefusedInputError as error:
        return show_refusal(request, case, fault_refusal=str(error), fault_typed=words)
    said = f"Taken back: {found.name}." if step == "drop" else f"Confirmed: {found.name}."
    return show_done(request, number, said, part="verdict")


@require_POST
@reviewers_only
def ask(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Ask the person what was ticked and written; the case then waits for them."""
    case = get_case(number)
    ids = request.POST.getlist("ask")
    form = AskForm({"words": request.POST.get("words", "")})
    if not form.is_valid():
        refusal = "These words are longer than a letter should be. Please shorten them."
        return show_refusal(request, case, ask_refusal=refusal, ask_form=form, ticked=ids)
    words = form.cleaned_data["words"]
    try:
        asked = ask_person(case, ids, words=words, actor=user_of(request))
    except RefusedInputError as error:
        return show_refusal(request, case, ask_refusal=str(error), ask_form=form, ticked=ids)
    except TransitionError:
        refusal = "This case is closed. Open it again before you ask."
        return show_refusal(
            request, case, status=409, ask_refusal=refusal, ask_form=form, ticked=ids
        )
    if asked.text:
        said = "The question is kept. Please copy the text into the channel now."
        return show_part(
            request,
            get_case(number),
            THINKING,
            said=said,
            ask_text=asked.text,
            ticked=[],
            words_sent=True,
        )
    return show_done(request, number, "The question is on its way.", part="ask", words_sent=True)


@require_GET
@desk_people
def numbers(request: HtmxRequest, number: int, fault: str) -> HttpResponseBase:
    """Show which numbers of the knowledge a suspicion rests on."""
    case = get_case(number)
    known = {info.id: info for info in engine.list_faults()}
    if fault not in known:
        raise Http404
    context = {
        "case": case,
        "fault": known[fault],
        "numbers": list_numbers(case, fault),
        "tab": "queue",
    }
    name = "review/_numbers.html" if wants_fragment(request) else "review/numbers.html"
    return render(request, name, context)


@require_POST
@reviewers_only
def respondent(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Keep what the person can look at, and choose the questions anew."""
    case = get_case(number)
    services.describe_respondent(
        case,
        has_print="has_print" in request.POST,
        has_printer="has_printer" in request.POST,
        sends_photos="sends_photos" in request.POST,
        refused_tools=[tool for tool in request.POST.getlist("refused") if tool in list_tools()],
        actor=user_of(request),
    )
    return show_done(request, number, "The questions suit what they can look at.", part="ask")


def find_named(known: Sequence[Named], words: str) -> Named | None:
    """Return the fault or finding with that id or name, or the only one with all those words."""
    wanted = words.casefold()
    if not wanted:
        return None
    for info in known:
        if wanted in (info.id, info.name.casefold()):
            return info
    parts = wanted.split()
    fitting = [info for info in known if all(part in info.name.casefold() for part in parts)]
    return fitting[0] if len(fitting) == 1 else None


def not_known(known: Sequence[Named], words: str, kind: str) -> str:
    """Return a sentence that offers the nearest names."""
    if not words:
        return f"Write or choose a {kind} first."
    names = {info.name.casefold(): info.name for info in known}
    parts = words.casefold().split()
    near = [name for low, name in names.items() if all(part in low for part in parts)]
    near = near or [
        names[low] for low in difflib.get_close_matches(words.casefold(), names, MOST_OFFERED, 0.4)
    ]
    offer = "; ".join(near[:MOST_OFFERED])
    return f"The desk knows no {kind} “{words[:60]}”. " + (
        f"Did you mean: {offer}?" if offer else "Choose one from the list."
    )


def show_done(
    request: HtmxRequest, number: int, said: str, *, part: str, **extra: Any
) -> HttpResponseBase:
    """Show the weighing again, keeping the questions already ticked."""
    case = get_case(number)
    if not wants_fragment(request):
        messages.success(request, said)
        return redirect(f"{case.get_absolute_url()}#{part}")
    if "ticks" in request.POST:
        extra.setdefault("ticked", request.POST.getlist("ask"))
    return show_part(request, case, THINKING, said=said, **extra)


def show_refusal(
    request: HtmxRequest, case: Case, *, status: int = 422, **extra: Any
) -> HttpResponse:
    """Show the weighing with a refusal beside what was typed."""
    said = next(str(value) for name, value in extra.items() if name.endswith("refusal"))
    return show_part(request, case, THINKING, status=status, said=said, **extra)
