"""Episodes, run sheets and candidates."""

from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from helpdesk.accounts.access import needs_any
from helpdesk.accounts.models import User
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES
from helpdesk.cases.models import Case
from helpdesk.core.http import announce, as_int, storable, wants_fragment
from helpdesk.episodes import services
from helpdesk.episodes.errors import EpisodeOutError, NotReadyError, StaleSheetError
from helpdesk.episodes.forms import (
    EpisodeForm,
    NewSegmentForm,
    OutForm,
    SegmentForm,
    local_start_default,
)
from helpdesk.episodes.models import Candidate, Episode, EpisodeState, Segment, Withdrawal
from helpdesk.episodes.selectors import (
    find_episode_in_the_making,
    get_run_sheet,
    list_episodes,
    list_missing,
    list_reserve,
)
from helpdesk.episodes.withdrawals import list_unseen, list_withdrawals, mark_seen

may_produce = permission_required(PRODUCE_EPISODES, raise_exception=True)
may_look = needs_any(REVIEW_CASES, PRODUCE_EPISODES)
WHY_LIMIT = 300


@require_GET
@may_look
def episodes(request: HttpRequest) -> HttpResponse:
    """List the episodes and the cases in reserve."""
    reserve = list(list_reserve())
    context = {
        "tab": "episodes",
        "episodes": list_episodes(),
        "reserve": [(c, list_missing(c.case)) for c in reserve],
        "next_one": find_episode_in_the_making(),
        "taken_back": list_unseen(),
        "may_produce": request.user.has_perm(PRODUCE_EPISODES),
    }
    return render(request, "episodes/episodes.html", context)


@require_GET
@may_look
def withdrawals(request: HttpRequest) -> HttpResponse:
    """List what people took back, and what had been shown by then."""
    context = {
        "tab": "episodes",
        "withdrawals": list_withdrawals(),
        "may_produce": request.user.has_perm(PRODUCE_EPISODES),
    }
    return render(request, "episodes/withdrawals.html", context)


@require_POST
@may_produce
def see_withdrawal(request: HttpRequest, withdrawal_id: int) -> HttpResponse:
    """Note that the producer has seen what was taken back."""
    found = get_object_or_404(Withdrawal, pk=withdrawal_id)
    mark_seen(found.pk, by=cast(User, request.user))
    messages.success(request, "Noted: you have seen it.")
    return redirect("episodes:episodes")


@require_http_methods(["GET", "POST"])
@may_produce
def new_episode(request: HttpRequest) -> HttpResponse:
    """Make an episode."""
    initial = {
        "number": services.next_number(),
        "starts_at": local_start_default(),
        "slot_s": 1200,
        "words_per_minute": 165,
    }
    form = EpisodeForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        values = {k: v for k, v in form.cleaned_data.items() if k != "link"}
        episode = services.make_episode(**values)
        messages.success(request, f"Episode {episode.number} is made, with the frame of a show.")
        return redirect(episode)
    status = 422 if request.method == "POST" else 200
    context = {"form": form, "tab": "episodes", "heading": "New episode"}
    return render(request, "episodes/episode_form.html", context, status=status)


@require_http_methods(["GET", "POST"])
@may_produce
def edit_episode(request: HttpRequest, number: int) -> HttpResponse:
    """Change an episode's title, start, slot or rate."""
    episode = get_object_or_404(Episode, number=number)
    form = EpisodeForm(request.POST or None, instance=episode)
    if request.method == "POST" and form.is_valid():
        services.change_episode(episode, form.cleaned_data)
        return redirect(episode)
    status = 422 if request.method == "POST" else 200
    heading = f"Episode {number}"
    context = {"form": form, "tab": "episodes", "heading": heading, "episode": episode}
    return render(request, "episodes/episode_form.html", context, status=status)


@require_GET
@may_look
def run_sheet(request: HttpRequest, number: int) -> HttpResponse:
    """Show an episode's parts with their times."""
    episode = get_object_or_404(Episode, number=number)
    return render(request, "episodes/run_sheet.html", _sheet_context(request, episode))


@require_GET
@may_look
def print_sheet(request: HttpRequest, number: int) -> HttpResponse:
    """Show the run sheet for paper."""
    episode = get_object_or_404(Episode, number=number)
    return render(request, "episodes/print.html", _sheet_context(request, episode))


@require_POST
@may_produce
def add_part(request: HttpRequest, number: int) -> HttpResponse:
    """Add a part that is no case."""
    episode = get_object_or_404(Episode, number=number)
    form = NewSegmentForm(request.POST)
    if not form.is_valid():
        context = _sheet_context(request, episode) | {"new_part": form}
        return render(request, "episodes/run_sheet.html", context, status=422)
    try:
        services.add_segment(episode, **form.cleaned_data)
    except EpisodeOutError as error:
        messages.error(request, str(error))
    return redirect(episode)


@require_POST
@may_produce
def add_case(request: HttpRequest, number: int) -> HttpResponse:
    """Put a candidate on the sheet."""
    episode = get_object_or_404(Episode, number=number)
    case = get_object_or_404(Case, pk=as_int(request.POST.get("case")))
    try:
        segment = services.add_case(episode, case, actor=cast(User, request.user))
        messages.success(request, f"“{segment.slug}” is on the sheet.")
    except EpisodeOutError as error:
        messages.error(request, str(error))
    return redirect(episode)


@require_http_methods(["GET", "POST"])
@may_produce
def edit_part(request: HttpRequest, number: int, part: int) -> HttpResponse:
    """Change what a part says and how long it takes."""
    segment = _find_part(number, part)
    form = SegmentForm(request.POST or None, instance=segment)
    if request.method == "POST" and form.is_valid():
        try:
            services.change_segment(segment, form.cleaned_data)
            return redirect(segment.episode)
        except EpisodeOutError as error:
            form.add_error(None, str(error))
    status = 422 if request.method == "POST" else 200
    context = {"form": form, "segment": segment, "episode": segment.episode, "tab": "episodes"}
    return render(request, "episodes/part_form.html", context, status=status)


@require_POST
@may_produce
def remove_part(request: HttpRequest, number: int, part: int) -> HttpResponse:
    """Take a part off the sheet."""
    segment = _find_part(number, part)
    slug = segment.slug
    try:
        services.remove_segment(segment)
        messages.success(request, f"“{slug}” is off the sheet.")
    except EpisodeOutError as error:
        messages.error(request, str(error))
    return redirect("episodes:run_sheet", number)


@require_POST
@may_produce
def move_part(request: HttpRequest, number: int, part: int) -> HttpResponse:
    """Move a part to a place; htmx gets the sheet anew and a spoken sentence."""
    segment = _find_part(number, part)
    place = as_int(request.POST.get("place"), segment.position) or segment.position
    version = as_int(request.POST.get("version"))
    words, status = "", 200
    try:
        place = services.move_segment(segment, place=place, version=version)
        count = segment.episode.segments.count()
        words = f"{segment.slug} moved to {place} of {count}"
    except StaleSheetError:
        words = (
            "Somebody else changed the sheet meanwhile; this is how it stands now. Nothing moved."
        )
        status = 409
    except EpisodeOutError as error:
        words, status = str(error), 409
    episode = get_object_or_404(Episode, number=number)
    if not wants_fragment(request):
        (messages.success if status == 200 else messages.error)(request, words)
        return redirect(episode)
    context = _sheet_context(request, episode) | {"moved": segment.pk, "said": words}
    return announce(render(request, "episodes/_sheet.html", context, status=status), words)


@require_http_methods(["GET", "POST"])
@may_produce
def mark_out(request: HttpRequest, number: int) -> HttpResponse:
    """Ask, then mark an episode as shown."""
    episode = get_object_or_404(Episode, number=number)
    form = OutForm(request.POST or None, initial={"link": episode.link})
    refused: list[str] = []
    if request.method == "POST" and form.is_valid():
        try:
            services.mark_out(
                episode, actor=cast(User, request.user), link=form.cleaned_data["link"]
            )
            messages.success(request, f"Episode {number} is out; its people are told once each.")
            return redirect(episode)
        except NotReadyError as error:
            refused = error.missing
    context = _sheet_context(request, episode) | {"form": form, "refused": refused}
    status = 422 if request.method == "POST" else 200
    return render(request, "episodes/mark_out.html", context, status=status)


@require_http_methods(["GET", "POST"])
@may_look
def candidate_panel(request: HttpRequest, number: int) -> HttpResponse:
    """Show or change whether a case is a candidate; anybody of the desk may propose one."""
    case = get_object_or_404(Case, pk=number)
    user = cast(User, request.user)
    words = ""
    if request.method == "POST":
        if request.POST.get("do") == "drop":
            services.drop_candidate(case, actor=user)
            words = "No longer marked for the show"
        else:
            why = storable(request.POST.get("why", "")).strip()[:WHY_LIMIT]
            services.add_candidate(case, actor=user, why=why)
            words = "Marked for the show"
        if not wants_fragment(request):
            messages.success(request, f"{words}.")
            return redirect(case)
    context = {
        "case": case,
        "candidate": Candidate.objects.filter(case=case).select_related("added_by").first(),
        "segments": case.segments.select_related("episode"),
        "missing": list_missing(case),
        "may_produce": user.has_perm(PRODUCE_EPISODES),
        "next_one": find_episode_in_the_making(),
    }
    return announce(render(request, "episodes/_candidate.html", context), words)


def _find_part(number: int, part: int) -> Segment:
    """Return a part of an episode, or 404 when it belongs to another."""
    return get_object_or_404(
        Segment.objects.select_related("episode", "case"), pk=part, episode__number=number
    )


def _sheet_context(request: HttpRequest, episode: Episode) -> dict[str, object]:
    """Return what the sheet's templates show."""
    return {
        "tab": "episodes",
        "episode": episode,
        "sheet": get_run_sheet(episode),
        "taken_back": [w for w in list_unseen() if w.episode_number == episode.number],
        "reserve": [(c, list_missing(c.case)) for c in list_reserve()],
        "is_making": episode.state == EpisodeState.MAKING,
        "may_produce": request.user.has_perm(PRODUCE_EPISODES),
        "new_part": NewSegmentForm(),
    }
