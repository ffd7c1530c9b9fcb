"""Presenting a show, and drawing marks over its pictures. Permissions: produce episodes."""

from pathlib import Path
from typing import cast

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.contrib.staticfiles import finders
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from helpdesk.accounts.models import User
from helpdesk.accounts.roles import PRODUCE_EPISODES
from helpdesk.core import clock
from helpdesk.core.http import as_int
from helpdesk.episodes.models import Episode
from helpdesk.photos.models import Photo
from helpdesk.presenting import services
from helpdesk.presenting.errors import EventNotUnderstoodError
from helpdesk.presenting.forms import MarkForm
from helpdesk.presenting.messages import read_messages
from helpdesk.presenting.models import PictureMark
from helpdesk.presenting.selectors import (
    epoch_ms,
    get_stage,
    list_marks,
    list_stage_photos,
    mark_values,
)

may_present = permission_required(PRODUCE_EPISODES, raise_exception=True)
STYLES = ("css/tokens.css", "css/desk.css", "css/presenting.css", "img/sign.svg")
ENTRY = "js/present.js"
WORKER = "js/present_worker.js"


@require_GET
@may_present
def present(request: HttpRequest, number: int) -> HttpResponse:
    """Show the page a show is presented from; without JavaScript it is the whole show as text."""
    episode = get_object_or_404(Episode, number=number)
    stage = get_stage(episode)
    addresses = {
        name: reverse(f"presenting:{name}", args=[number])
        for name in ("present", "state", "time", "events", "worker")
    }
    page = {
        **addresses,
        "sheet": episode.get_absolute_url(),
        "login": f"{reverse(settings.LOGIN_URL)}?next={addresses['present']}",
        "files": _list_files(),
        "person": cast(User, request.user).pk,
        "has_keys": cast(User, request.user).has_keys,
        "now_ms": epoch_ms(clock.now()),
        "zone": settings.TIME_ZONE,
    }
    context = {"episode": episode, "stage": stage, "page": page, "tab": "episodes"}
    return render(request, "presenting/present.html", context)


@require_GET
@may_present
def state(request: HttpRequest, number: int) -> JsonResponse:
    """Say how the show stands now; nothing but the time when the page knows this state."""
    stage = get_stage(get_object_or_404(Episode, number=number))
    is_known = request.GET.get("known") == stage["digest"]
    return JsonResponse({"now_ms": epoch_ms(clock.now()), "show": None if is_known else stage})


@require_GET
@may_present
def time(request: HttpRequest, number: int) -> JsonResponse:
    """Say what time it is, as fast as can be."""
    return JsonResponse({"now_ms": epoch_ms(clock.now())})


@require_POST
@may_present
def events(request: HttpRequest, number: int) -> JsonResponse:
    """Take what the page did; the answer says of each event what became of it."""
    episode = get_object_or_404(Episode, number=number)
    try:
        sent = read_messages(request.body)
    except EventNotUnderstoodError as error:
        return JsonResponse({"error": str(error)}, status=400)
    outcomes = services.keep_events(episode, sent, actor=cast(User, request.user))
    results = [{"id": outcome.event_id, "refusal": outcome.refusal} for outcome in outcomes]
    return JsonResponse({"results": results, "version": episode.version})


@require_GET
@may_present
def worker(request: HttpRequest, number: int) -> HttpResponse:
    """Hand out the service worker; it may answer for this show’s page and nothing else."""
    get_object_or_404(Episode, number=number)
    found = finders.find(WORKER)
    if not isinstance(found, str):
        raise Http404("No worker.")
    response = HttpResponse(Path(found).read_bytes(), content_type="text/javascript; charset=utf-8")
    response["Service-Worker-Allowed"] = reverse("presenting:present", args=[number])
    return response


@require_http_methods(["GET", "POST"])
@may_present
def marks(request: HttpRequest, number: int) -> HttpResponse:
    """Draw, order and remove the marks over a show’s pictures."""
    episode = get_object_or_404(Episode, number=number)
    photos = list_stage_photos(episode)
    form, refused = MarkForm(), None
    if request.method == "POST":
        wanted = as_int(request.POST.get("photo"))
        photo = next((each for each in photos if each.pk == wanted), None)
        if photo is None:
            raise Http404("No such picture in this show.")
        if request.POST.get("do") in {"remove", "earlier"}:
            _change_mark(request, photo)
            return redirect(f"{request.path}#photo-{photo.pk}")
        form = MarkForm(request.POST)
        if form.is_valid():
            services.add_mark(photo, form.cleaned_data)
            messages.success(request, "The mark is drawn; it is shown after those before it.")
            return redirect(f"{request.path}#photo-{photo.pk}")
        refused = photo.pk
    drawn = list_marks(photo.pk for photo in photos)
    rows = [
        {
            "photo": photo,
            "marks": drawn.get(photo.pk, []),
            "values": [mark_values(mark) for mark in drawn.get(photo.pk, [])],
            "form": form
            if photo.pk == refused
            else MarkForm(auto_id=f"id_{photo.pk}_%s", initial={"shape": "ring"}),
        }
        for photo in photos
    ]
    context = {"episode": episode, "rows": rows, "form": form, "tab": "episodes"}
    return render(request, "presenting/marks.html", context, status=422 if refused else 200)


def _change_mark(request: HttpRequest, photo: Photo) -> None:
    """Remove a mark or show it earlier."""
    mark = get_object_or_404(PictureMark, pk=as_int(request.POST.get("mark")), photo=photo)
    if request.POST.get("do") == "remove":
        services.remove_mark(mark)
        messages.success(request, f"“{mark.words}” is removed.")
    else:
        services.show_mark_earlier(mark)


def _list_files() -> list[str]:
    """Return the addresses of everything the page is made of, to be kept for when it is offline."""
    entries = [static(name) for name in (*STYLES, ENTRY)]
    # Modules name each other by their plain addresses, whatever the storage calls the first one.
    found = Path(str(finders.find(ENTRY))).parent.glob("present_*.js")
    names = sorted(path.name for path in found if path.name not in {Path(WORKER).name})
    return entries + [f"{settings.STATIC_URL}js/{name}" for name in names]
