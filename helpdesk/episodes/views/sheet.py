"""The run sheet: its order, its parts, and what it looks like on paper."""

from typing import cast

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from helpdesk.accounts.models import User
from helpdesk.accounts.roles import PRODUCE_EPISODES
from helpdesk.cases.models import Case
from helpdesk.core.http import announce, as_int, wants_fragment
from helpdesk.episodes import services
from helpdesk.episodes.errors import EpisodeOutError, StaleSheetError
from helpdesk.episodes.forms import NewSegmentForm
from helpdesk.episodes.models import Episode, EpisodeState
from helpdesk.episodes.selectors import get_run_sheet, reserve_with_missing
from helpdesk.episodes.views.access import may_look, may_produce
from helpdesk.episodes.views.conflicts import with_version
from helpdesk.episodes.views.parts import find_part
from helpdesk.episodes.withdrawals import list_unseen

SIZES = range(1, 8)  # steps of the script's type; what they measure stands in episodes.css
USUAL_SIZE = 3
STALE = "Somebody else changed the sheet meanwhile; this is how it stands now."


@require_GET
@may_look
def run_sheet(request: HttpRequest, number: int) -> HttpResponse:
    """Show an episode's parts with their times."""
    episode = get_object_or_404(Episode, number=number)
    return render(request, "episodes/run_sheet.html", sheet_context(request, episode))


@require_GET
@may_look
def print_sheet(request: HttpRequest, number: int) -> HttpResponse:
    """Show the run sheet for paper."""
    episode = get_object_or_404(Episode, number=number)
    return render(request, "episodes/print.html", sheet_context(request, episode))


@require_GET
@may_look
def script(request: HttpRequest, number: int) -> HttpResponse:
    """Show the words of a show in big type, one long page that needs no script to be read."""
    episode = get_object_or_404(Episode, number=number)
    size = as_int(request.GET.get("size"), USUAL_SIZE) or USUAL_SIZE
    size = max(SIZES[0], min(size, SIZES[-1]))
    context = {
        "episode": episode,
        "sheet": get_run_sheet(episode),
        "size": size,
        "smaller": size - 1 if size > SIZES[0] else None,
        "larger": size + 1 if size < SIZES[-1] else None,
    }
    return render(request, "episodes/script.html", context)


@require_POST
@may_produce
def add_part(request: HttpRequest, number: int) -> HttpResponse:
    """Add a part that is no case, where its kind usually stands."""
    episode = get_object_or_404(Episode, number=number)
    form = NewSegmentForm(request.POST)
    if not form.is_valid():
        context = sheet_context(request, episode) | {"new_part": form}
        return render(request, "episodes/run_sheet.html", context, status=422)
    try:
        services.add_segment(episode, **form.values)
    except StaleSheetError:
        return _show_stale(request, episode, f"{STALE} Your part is not added yet.", form)
    except EpisodeOutError as error:
        messages.error(request, str(error))
    return redirect(episode)


@require_POST
@may_produce
def add_case(request: HttpRequest, number: int) -> HttpResponse:
    """Put a candidate on the sheet."""
    episode = get_object_or_404(Episode, number=number)
    case = get_object_or_404(Case, pk=as_int(request.POST.get("case")))
    version = as_int(request.POST.get("version"))
    try:
        actor = cast(User, request.user)
        segment = services.add_case(episode, case, actor=actor, version=version)
        messages.success(request, f"“{segment.slug}” is on the sheet.")
    except StaleSheetError:
        return _show_stale(request, episode, f"{STALE} “{case.title}” is not on it yet.")
    except EpisodeOutError as error:
        messages.error(request, str(error))
    return redirect(episode)


@require_POST
@may_produce
def remove_part(request: HttpRequest, number: int, part: int) -> HttpResponse:
    """Take a part off the sheet."""
    segment = find_part(number, part)
    slug, episode = segment.slug, segment.episode
    try:
        services.remove_segment(segment, version=as_int(request.POST.get("version")))
        messages.success(request, f"“{slug}” is off the sheet.")
    except StaleSheetError:
        return _show_stale(request, episode, f"{STALE} “{slug}” was not taken off.")
    except EpisodeOutError as error:
        messages.error(request, str(error))
    return redirect("episodes:run_sheet", number)


@require_POST
@may_produce
def move_part(request: HttpRequest, number: int, part: int) -> HttpResponse:
    """Move a part to a place; htmx gets the sheet anew and a spoken sentence."""
    segment = find_part(number, part)
    place = as_int(request.POST.get("place"), segment.position) or segment.position
    version = as_int(request.POST.get("version"))
    words, status = "", 200
    try:
        place = services.move_segment(segment, place=place, version=version)
        count = segment.episode.segments.count()
        words = f"{segment.slug} moved to {place} of {count}"
    except StaleSheetError:
        words = f"{STALE} Nothing moved."
        status = 409
    except EpisodeOutError as error:
        words, status = str(error), 409
    episode = get_object_or_404(Episode, number=number)
    if not wants_fragment(request):
        if status == 409:
            return _show_stale(request, episode, words)
        messages.success(request, words)
        return redirect(episode)
    context = sheet_context(request, episode) | {"said": words, "is_moved": status == 200}
    return announce(render(request, "episodes/_sheet.html", context, status=status), words)


def sheet_context(request: HttpRequest, episode: Episode) -> dict[str, object]:
    """Return what the sheet's templates show."""
    return {
        "tab": "episodes",
        "episode": episode,
        "sheet": get_run_sheet(episode),
        "taken_back": [w for w in list_unseen() if w.episode_number == episode.number],
        "reserve": reserve_with_missing(),
        "is_making": episode.state == EpisodeState.MAKING,
        "may_produce": request.user.has_perm(PRODUCE_EPISODES),
        "new_part": NewSegmentForm(initial={"version": episode.version}),
    }


def _show_stale(
    request: HttpRequest, episode: Episode, words: str, form: NewSegmentForm | None = None
) -> HttpResponse:
    """Show the sheet as it stands now, with what was typed still there; pressing again does it."""
    episode.refresh_from_db()
    context = sheet_context(request, episode) | {"said": words}
    if form is not None:
        context["new_part"] = NewSegmentForm(with_version(request.POST, episode.version))
    return render(request, "episodes/run_sheet.html", context, status=409)
