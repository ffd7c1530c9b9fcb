"""Choosing the cases of an episode. Permissions: anybody of the desk looks, producers choose."""

from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST
from django.views.decorators.vary import vary_on_headers

from helpdesk.accounts.access import needs_any
from helpdesk.accounts.models import User
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES
from helpdesk.cases.models import Case
from helpdesk.choosing import services
from helpdesk.choosing.errors import SolverError, StaleChoiceError
from helpdesk.choosing.forms import RulesForm, SwapForm, WeightsForm, WishForm
from helpdesk.choosing.selectors import get_proposal, get_rules, list_changes
from helpdesk.choosing.ways import list_ways
from helpdesk.choosing.weights import get_weights
from helpdesk.core.http import announce, as_int, wants_fragment
from helpdesk.episodes.errors import EpisodeOutError
from helpdesk.episodes.models import Episode

may_produce = permission_required(PRODUCE_EPISODES, raise_exception=True)
may_look = needs_any(REVIEW_CASES, PRODUCE_EPISODES)
MOST_RUNNERS_UP = 10
MOST_HELD_BACK = 8
SAID = {
    "must": "must be in. The rest is chosen round it.",
    "never": "stays out. The rest is chosen without it.",
    "": "is left to the choosing again.",
}


@require_GET
@may_look
@vary_on_headers("HX-Request")
def choose(request: HttpRequest, number: int) -> HttpResponse:
    """Show the best set of cases for an episode, and why it is the best."""
    episode = get_object_or_404(Episode, number=number)
    name = "choosing/_proposal.html" if wants_fragment(request) else "choosing/choose.html"
    return render(request, name, _context(request, episode))


@require_POST
@may_produce
def wish(request: HttpRequest, number: int) -> HttpResponse:
    """Note that a case must be in, or never, or neither; the rest is chosen anew."""
    episode = get_object_or_404(Episode, number=number)
    form = WishForm(request.POST)
    if not form.is_valid():  # no button of ours sends this
        raise BadRequest("Wish not understood.")
    case = get_object_or_404(Case, pk=form.cleaned_data["case"])
    kind = form.cleaned_data["kind"]
    try:
        services.set_wish(episode, case, kind=kind, actor=cast(User, request.user))
    except EpisodeOutError as error:
        return _answer(request, episode, str(error), is_refused=True)
    return _answer(request, episode, f"“{case.title}” {SAID[kind]}")


@require_POST
@may_produce
def swap(request: HttpRequest, number: int) -> HttpResponse:
    """Take one case out and another in; the rest is chosen anew."""
    episode = get_object_or_404(Episode, number=number)
    form = SwapForm(request.POST)
    if not form.is_valid():
        raise BadRequest("Swap not understood.")
    out = get_object_or_404(Case, pk=form.cleaned_data["out"])
    coming = get_object_or_404(Case, pk=form.cleaned_data["coming"])
    try:
        services.swap_cases(episode, out=out, coming=coming, actor=cast(User, request.user))
    except EpisodeOutError as error:
        return _answer(request, episode, str(error), is_refused=True)
    return _answer(request, episode, f"“{coming.title}” is in for “{out.title}”.")


@require_POST
@may_produce
def rules(request: HttpRequest, number: int) -> HttpResponse:
    """Store what the set must keep to."""
    episode = get_object_or_404(Episode, number=number)
    form = RulesForm(request.POST, instance=get_rules(episode))
    if not form.is_valid():
        context = _context(request, episode) | {"form": form}
        return render(request, "choosing/choose.html", context, status=422)
    try:
        services.set_rules(episode, form.cleaned_data)
        messages.success(request, "The rules are kept, and the cases chosen anew.")
    except EpisodeOutError as error:
        messages.error(request, str(error))
    return redirect("choosing:choose", number)


@require_POST
@may_produce
def put(request: HttpRequest, number: int) -> HttpResponse:
    """Put the proposal on the run sheet, as it was seen."""
    episode = get_object_or_404(Episode, number=number)
    seen = [as_int(value, 0) or 0 for value in request.POST.getlist("case")]
    try:
        count = services.put_on_sheet(episode, case_ids=seen, actor=cast(User, request.user))
    except (EpisodeOutError, StaleChoiceError, SolverError) as error:
        messages.error(request, str(error))
        return redirect("choosing:choose", number)
    words = "The proposal is on the run sheet." if count else "The run sheet had it all already."
    messages.success(request, words)
    return redirect(episode)


@require_http_methods(["GET", "POST"])
@may_produce
def weights(request: HttpRequest) -> HttpResponse:
    """Show or change what the reasons are worth."""
    form = WeightsForm(request.POST or None, points=get_weights())
    if request.method == "POST" and form.is_valid():
        count = services.set_weights(form.cleaned_data, actor=cast(User, request.user))
        noun = "weight" if count == 1 else "weights"
        messages.success(request, f"{count} {noun} changed." if count else "Nothing changed.")
        return redirect("choosing:weights")
    status = 422 if request.method == "POST" else 200
    fields = [form[name] for name in form.fields]
    context = {
        "tab": "episodes",
        "form": form,
        "reason_fields": [field for field in fields if "-" not in field.name],
        "variety_fields": [field for field in fields if "-" in field.name],
    }
    return render(request, "choosing/weights.html", context, status=status)


def _answer(
    request: HttpRequest, episode: Episode, words: str, *, is_refused: bool = False
) -> HttpResponse:
    """Answer a change with the new proposal alone, or with the page."""
    if not wants_fragment(request):
        (messages.error if is_refused else messages.success)(request, words)
        return redirect("choosing:choose", episode.number)
    context = _context(request, episode)
    status = 409 if is_refused else 200
    return announce(render(request, "choosing/_proposal.html", context, status=status), words)


def _context(request: HttpRequest, episode: Episode) -> dict[str, object]:
    """Return what the page shows; a shown episode has nothing to choose any more."""
    context: dict[str, object] = {
        "tab": "episodes",
        "episode": episode,
        "form": RulesForm(instance=get_rules(episode)),
        "may_produce": request.user.has_perm(PRODUCE_EPISODES),
    }
    if episode.is_out:
        return context | {"refused": f"Episode {episode.number} is out; its sheet is history now."}
    try:
        proposal = get_proposal(episode)
    except SolverError as error:
        return context | {"refused": str(error)}
    runners_up, held_back = proposal.runners_up, proposal.held_back
    return context | {
        "proposal": proposal,
        "ways": list_ways(proposal),
        "changes": list_changes(episode, proposal.places) if proposal.best else [],
        "runners_up": runners_up[:MOST_RUNNERS_UP],
        "comers": [shown for shown in runners_up if not shown.wish][:MOST_RUNNERS_UP],
        "more_runners_up": max(0, len(runners_up) - MOST_RUNNERS_UP),
        "held_back": held_back[:MOST_HELD_BACK],
        "more_held_back": max(0, len(held_back) - MOST_HELD_BACK),
    }
