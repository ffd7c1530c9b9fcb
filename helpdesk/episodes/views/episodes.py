"""Episodes, candidates and what was taken back."""

from typing import cast

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from helpdesk.accounts.models import User
from helpdesk.accounts.roles import PRODUCE_EPISODES
from helpdesk.cases.models import Case
from helpdesk.core.http import announce, storable, wants_fragment
from helpdesk.episodes import services
from helpdesk.episodes.errors import NotReadyError, StaleDetailsError
from helpdesk.episodes.forms import EpisodeForm, OutForm, local_start_default
from helpdesk.episodes.models import FREE_TALK_WPM, Candidate, Episode, Withdrawal
from helpdesk.episodes.selectors import (
    find_episode_in_the_making,
    list_episodes,
    list_missing,
    reserve_with_missing,
)
from helpdesk.episodes.views.access import may_look, may_produce
from helpdesk.episodes.views.conflicts import differences, with_version
from helpdesk.episodes.views.sheet import sheet_context
from helpdesk.episodes.withdrawals import list_unseen, list_withdrawals, mark_seen

WHY_LIMIT = 300


@require_GET
@may_look
def episodes(request: HttpRequest) -> HttpResponse:
    """List the episodes and the cases in reserve."""
    context = {
        "tab": "episodes",
        "episodes": list_episodes(),
        "reserve": reserve_with_missing(),
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
        "words_per_minute": FREE_TALK_WPM,
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
    context: dict[str, object] = {"tab": "episodes", "heading": f"Episode {number}"}
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                services.change_episode(
                    episode, form.cleaned_data, version=form.cleaned_data["version"]
                )
                return redirect(episode)
            except StaleDetailsError as error:
                status = 409
                fresh = EpisodeForm(instance=error.current)
                context["conflict"] = differences(form, fresh)
                data = with_version(request.POST, error.current.details_version)
                form = EpisodeForm(data, instance=error.current)
    context |= {"form": form, "episode": get_object_or_404(Episode, number=number)}
    return render(request, "episodes/episode_form.html", context, status=status)


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
    context = sheet_context(request, episode) | {"form": form, "refused": refused}
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
