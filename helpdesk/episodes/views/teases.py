"""Hooks for the opening: proposed, changed by hand, put into the tease."""

from typing import cast

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from helpdesk.accounts.models import User
from helpdesk.core.http import as_int
from helpdesk.episodes import services
from helpdesk.episodes.case_stories import gather_stories
from helpdesk.episodes.errors import EpisodeOutError, StalePartError
from helpdesk.episodes.forms import TeaseForm
from helpdesk.episodes.models import Episode, Segment, SegmentKind
from helpdesk.episodes.selectors import get_run_sheet
from helpdesk.episodes.teases import MOST_WORDS, propose_hooks
from helpdesk.episodes.views.access import may_produce
from helpdesk.episodes.views.conflicts import Difference, with_version

LAST_TURN = 999


@require_http_methods(["GET", "POST"])
@may_produce
def teases(request: HttpRequest, number: int) -> HttpResponse:
    """Propose three hooks, or put what was made of them into the tease."""
    episode = get_object_or_404(Episode, number=number)
    tease = episode.segments.filter(kind=SegmentKind.TEASE).order_by("position").first()
    turn = max(0, min(as_int(request.GET.get("turn"), 0) or 0, LAST_TURN))
    status, conflict = 200, None
    if request.method == "POST":
        form = TeaseForm(request.POST)
        status = 422
        if form.is_valid():
            try:
                _put_in(request, episode, tease, form)
                messages.success(request, "The hooks stand in the tease.")
                return redirect(episode)
            except StalePartError as error:
                status = 409
                stored = error.current.script
                conflict = [Difference("script", "The tease’s words", stored)]
                form = TeaseForm(with_version(request.POST, error.current.version))
            except EpisodeOutError as error:
                form.add_error(None, str(error))
    else:
        hooks = propose_hooks(gather_stories(get_run_sheet(episode)), turn=turn)
        version = tease.version if tease else None
        words = "\n\n".join(hook.text for hook in hooks)
        form = TeaseForm(initial={"words": words, "version": version})
    context = {
        "tab": "episodes",
        "episode": episode,
        "tease": tease,
        "form": form,
        "conflict": conflict,
        "next_turn": turn + 1,
        "most_words": MOST_WORDS,
    }
    return render(request, "episodes/teases.html", context, status=status)


def _put_in(request: HttpRequest, episode: Episode, tease: Segment | None, form: TeaseForm) -> None:
    """Store the words as the tease's script; a sheet without a tease gets one."""
    actor = cast(User, request.user)
    words = form.cleaned_data["words"]
    if tease is None:
        services.add_segment(
            episode, kind=SegmentKind.TEASE, slug="What is coming", script=words, edited_by=actor
        )
        return
    if form.cleaned_data["version"] is None:  # there was none when these hooks were written
        raise StalePartError(tease)
    services.change_segment(
        tease, {"script": words}, version=form.cleaned_data["version"], actor=actor
    )
