"""After a show: its times, chapters, texts, letters and rates.

Permissions: the desk may look, producers change.
"""

from collections.abc import Callable, Sequence
from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from helpdesk.accounts.access import needs_any
from helpdesk.accounts.models import User
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES
from helpdesk.aftershow import rates, services
from helpdesk.aftershow.chapters import (
    JSON_TYPE,
    Chapter,
    write_json,
    write_list,
    write_track,
)
from helpdesk.aftershow.errors import NotNamedError
from helpdesk.aftershow.forms import AirForm, PartTimesForm, TargetForm, TextForm
from helpdesk.aftershow.selectors import (
    AfterShow,
    Text,
    get_after_show,
    list_rates,
    list_texts,
    list_told,
)
from helpdesk.cases.models import Case
from helpdesk.core.errors import DeskError, StaleVersionError
from helpdesk.core.http import as_int
from helpdesk.episodes.featuring import find_places, list_group
from helpdesk.episodes.models import Episode, EpisodeState

may_produce = permission_required(PRODUCE_EPISODES, raise_exception=True)
may_look = needs_any(REVIEW_CASES, PRODUCE_EPISODES)
Writer = Callable[[AfterShow], str]
# What a chapter file is called and says it is, by its ending.
FILES: dict[str, tuple[str, Writer]] = {
    "vtt": ("text/vtt; charset=utf-8", lambda after: write_track(after.chapters)),
    "json": (JSON_TYPE, lambda after: _json(after.chapters, after.episode)),
    "txt": ("text/plain; charset=utf-8", lambda after: write_list(after.chapters)),
}


@require_GET
@may_look
def after_show(request: HttpRequest, number: int) -> HttpResponse:
    """Show everything to do after a show, in its order."""
    return _show(request, _find(number))


@require_POST
@may_produce
def set_air(request: HttpRequest, number: int) -> HttpResponse:
    """Keep when a show went on and off air and where its recording begins."""
    episode = _find(number)
    form = AirForm(request.POST, instance=Episode.objects.get(pk=episode.pk))
    if form.is_valid():
        try:
            services.set_air(episode, **form.cleaned_data, actor=cast(User, request.user))
            messages.success(request, "The times of the show are kept.")
            return redirect("aftershow:after_show", number)
        except DeskError as error:
            form.add_error("off_air_at", str(error))
    return _show(request, _find(number), air_form=form, status=422)


@require_POST
@may_produce
def set_times(request: HttpRequest, number: int) -> HttpResponse:
    """Correct when the parts really started."""
    episode = _find(number)
    form = PartTimesForm(request.POST, after=get_after_show(episode))
    if form.is_valid():
        try:
            changed = services.set_part_times(episode, form.times, actor=cast(User, request.user))
            words = "1 time was" if changed == 1 else f"{changed} times were"
            messages.success(request, f"{words} changed.")
            return redirect("aftershow:after_show", number)
        except DeskError as error:
            form.add_error(None, str(error))
    return _show(request, episode, times_form=form, status=422)


@require_GET
@may_look
def chapters(request: HttpRequest, number: int, ending: str) -> HttpResponse:
    """Hand out the chapters of a show as a file."""
    if ending not in FILES:
        raise Http404
    content_type, write = FILES[ending]
    name = f"episode-{number}-chapters.{ending}"
    return _download(write(get_after_show(_find(number))), name, content_type)


@require_http_methods(["GET", "POST"])
@may_produce
def edit_text(request: HttpRequest, number: int, place: int) -> HttpResponse:
    """Change the text for one place, with what the desk would write beside it."""
    after, text = _find_text(number, place)
    row = text.description
    initial = {"words": text.text, "limit_chars": row.limit_chars, "version": row.version}
    form = TextForm(request.POST or None, initial=initial)
    status, kept = 422 if request.method == "POST" else 200, ""
    if request.method == "POST" and form.is_valid():
        try:
            services.keep_text(
                after,
                text,
                words="" if request.POST.get("do") == "desk" else form.cleaned_data["words"],
                limit_chars=form.cleaned_data["limit_chars"],
                version=form.cleaned_data["version"] or 0,
                actor=cast(User, request.user),
            )
            messages.success(request, f"The text for “{row.target}” is kept.")
            return redirect("aftershow:after_show", number)
        except NotNamedError as error:
            for sentence in error.sentences:
                form.add_error("words", sentence)
        except StaleVersionError as error:
            form = TextForm({**request.POST.dict(), "version": row.version})
            form.add_error("words", f"{error} Yours stands here and is not kept yet.")
            status, kept = 409, text.text
        except DeskError as error:
            form.add_error(None, str(error))
    context = {"tab": "episodes", "episode": after.episode, "text": text, "form": form}
    context["kept"] = kept
    return render(request, "aftershow/text_form.html", context | {"place": place}, status=status)


@require_GET
@may_look
def download_text(request: HttpRequest, number: int, place: int) -> HttpResponse:
    """Hand out the text for one place; one that names whom it may not is not handed out."""
    after, text = _find_text(number, place)
    if text.trouble:
        for sentence in text.trouble:
            messages.error(request, sentence)
        return _show(request, after.episode, status=409)
    name = f"episode-{number}-description-{place}.txt"
    return _download(text.text, name, "text/plain; charset=utf-8")


@require_POST
@may_produce
def add_target(request: HttpRequest, number: int) -> HttpResponse:
    """Add another place the text of this show goes to."""
    episode = _find(number)
    form = TargetForm(request.POST)
    if form.is_valid():
        after = get_after_show(episode)
        rows = [text.description for text in list_texts(after)]
        try:
            services.add_target(
                after, rows, form.cleaned_data["target"], form.cleaned_data["limit_chars"]
            )
            return redirect("aftershow:after_show", number)
        except DeskError as error:
            form.add_error("target", str(error))
    return _show(request, episode, target_form=form, status=422)


@require_POST
@may_produce
def remove_target(request: HttpRequest, number: int, place: int) -> HttpResponse:
    """Take away a place with its text."""
    _, text = _find_text(number, place)
    if text.description.pk is None:
        raise Http404
    services.remove_target(text.description)
    messages.success(request, f"“{text.description.target}” is gone.")
    return redirect("aftershow:after_show", number)


@require_POST
@may_produce
def mark_told(request: HttpRequest, number: int) -> HttpResponse:
    """Note that somebody without a mail address was told by hand."""
    episode = _find(number)
    shown = [part.segment.case for part in find_places(episode).values() if part.segment.case]
    cases = {case.pk: case for lead in shown for case in list_group(lead)}
    case: Case | None = cases.get(as_int(request.POST.get("case")) or 0)
    if case is None:
        raise Http404
    if episode.state != EpisodeState.OUT:
        messages.error(request, "The episode is not out yet.")
    else:
        services.mark_told(case, episode, actor=cast(User, request.user))
        messages.success(request, f"Noted: {case.person} was told.")
    return redirect("aftershow:after_show", number)


@require_POST
@may_produce
def learn_rates(request: HttpRequest, number: int) -> HttpResponse:
    """Let the rates of the presenters learn from this show."""
    episode = _find(number)
    learnt = rates.learn_rates(episode, get_after_show(episode).parts)
    for one in learnt:
        words = f"{one.presenter}: {one.old_wpm} words a minute before, {one.new_wpm} from now on."
        messages.success(request, words)
    if not learnt:
        messages.error(request, "No part has a noted start and end to learn from.")
    return redirect("aftershow:after_show", number)


def _find(number: int) -> Episode:
    return get_object_or_404(Episode, number=number)


def _find_text(number: int, place: int) -> tuple[AfterShow, Text]:
    """Return the text at a place, counted from 1."""
    after = get_after_show(_find(number))
    texts = list_texts(after)
    if not 1 <= place <= len(texts):
        raise Http404
    return after, texts[place - 1]


def _show(
    request: HttpRequest,
    episode: Episode,
    *,
    air_form: AirForm | None = None,
    times_form: PartTimesForm | None = None,
    target_form: TargetForm | None = None,
    status: int = 200,
) -> HttpResponse:
    """Show the page, with the form that was refused if any."""
    after = get_after_show(episode)
    times = times_form or PartTimesForm(after=after)
    refused = next((f for f in (air_form, times_form, target_form) if f is not None), None)
    context = {
        "tab": "episodes",
        "episode": episode,
        "after": after,
        "is_out": episode.state == EpisodeState.OUT,
        "may_produce": request.user.has_perm(PRODUCE_EPISODES),
        "form": refused,
        "air_form": air_form or AirForm(instance=episode),
        "rows": [(part, *times.fields_by_part[part.segment.pk]) for part in after.parts],
        "left_out": [(each, *times.fields_by_part[each.pk]) for each in after.left_out],
        "texts": list_texts(after),
        "target_form": target_form or TargetForm(),
        "told": list_told(after),
        "rates": list_rates(after),
    }
    return render(request, "aftershow/after_show.html", context, status=status)


def _json(found: Sequence[Chapter], episode: Episode) -> str:
    return write_json(found, title=f"{episode.number}: {episode.title}")


def _download(text: str, name: str, content_type: str) -> HttpResponse:
    """Return a text as a file under its name."""
    response = HttpResponse(text, content_type=content_type)
    response["Content-Disposition"] = str(content_disposition_header(True, name))
    response["X-Content-Type-Options"] = "nosniff"
    return response
