"""The archive: its shows, the files they come from, and correcting where segments begin."""

from typing import Any, cast

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST
from django.views.decorators.vary import vary_on_headers

from helpdesk.accounts.access import needs_any
from helpdesk.accounts.models import User
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES
from helpdesk.archive import corrections, services
from helpdesk.archive.corrections import Told
from helpdesk.archive.engine import write_captions
from helpdesk.archive.errors import CorrectionError, StaleSegmentsError
from helpdesk.archive.forms import CaptionsForm, FactsForm, SecondField, SegmentForm, StepForm
from helpdesk.archive.models import ArchivedShow, ArchiveSegment, CaptionFile, Kind
from helpdesk.archive.selectors import get_show_page, is_any_waiting, list_shows, list_uploads
from helpdesk.archive.services import ShowFacts
from helpdesk.archive.values import CueLine
from helpdesk.core.http import announce, as_int, wants_fragment
from helpdesk.episodes.models import Episode

may_produce = permission_required(PRODUCE_EPISODES, raise_exception=True)
may_look = needs_any(REVIEW_CASES, PRODUCE_EPISODES)
LARGEST_SECOND = 10**7


@require_GET
@may_look
def archive(request: HttpRequest) -> HttpResponse:
    """List the shows of the archive and the latest uploads."""
    return render(request, "archive/archive.html", _archive_context(CaptionsForm()))


@require_GET
@may_produce
def uploads(request: HttpRequest) -> HttpResponse:
    """Return how far the latest uploads are."""
    found = list_uploads()
    context = {"uploads": found, "is_waiting": is_any_waiting(found)}
    return render(request, "archive/_uploads.html", context)


@require_POST
@may_produce
def upload(request: HttpRequest) -> HttpResponse:
    """Keep files of captions to be read in the background; one that is refused says why."""
    form = CaptionsForm(request.POST, request.FILES)
    if not form.is_valid():
        return render(request, "archive/archive.html", _archive_context(form), status=422)
    for file in form.cleaned_data["captions"]:
        raw = file.read(services.MAX_BYTES + 1)  # of a larger one no more than tells that it is
        services.receive_upload(
            raw,
            label=file.name or "",
            number=form.cleaned_data["number"],
            by=cast(User, request.user),
        )
    count = len(form.cleaned_data["captions"])
    messages.success(request, f"{count} {'file was' if count == 1 else 'files were'} taken.")
    return redirect("archive:archive")


@require_GET
@may_look
def show(request: HttpRequest, number: int) -> HttpResponse:
    """Show a show's segments with every line, at a second where the address names one."""
    found = get_object_or_404(ArchivedShow, number=number)
    second = as_int(request.GET.get("at"))
    second = None if second is None else max(0, min(second, LARGEST_SECOND))
    first_cue = as_int(request.GET.get("from"))
    return render(request, "archive/show.html", _context(request, found, second, first_cue))


@require_GET
@may_look
def captions(request: HttpRequest, number: int) -> HttpResponse:
    """Return a show's captions as WebVTT, as they were read."""
    found = get_object_or_404(CaptionFile, show__number=number)
    text = write_captions([CueLine(*cue) for cue in found.cues])
    response = HttpResponse(text, content_type="text/vtt; charset=utf-8")
    response["Content-Disposition"] = f'inline; filename="episode-{number}.vtt"'
    return response


@require_POST
@may_produce
def facts(request: HttpRequest, number: int) -> HttpResponse:
    """Keep a show's title, date and link."""
    found = get_object_or_404(ArchivedShow, number=number)
    form = FactsForm(request.POST)
    if not form.is_valid():
        context = {**_context(request, found), "facts": form}
        return render(request, "archive/show.html", context, status=422)
    services.change_facts(found, ShowFacts(**form.cleaned_data))
    messages.success(request, "Saved.")
    return redirect(found)


@require_POST
@may_produce
def remove(request: HttpRequest, number: int) -> HttpResponse:
    """Take a show out of the archive, if the box that says so is ticked."""
    found = get_object_or_404(ArchivedShow, number=number)
    if request.POST.get("is_sure") != "yes":
        messages.warning(request, "Nothing was removed: the box was not ticked.")
        return redirect(found)
    services.remove_show(found)
    messages.success(request, f"Episode {number} was taken out of the archive.")
    return redirect("archive:archive")


@require_POST
@may_produce
@vary_on_headers("HX-Request")
def correct(request: HttpRequest, number: int) -> HttpResponse:
    """Take one step of a correction; htmx gets the segments alone."""
    found = get_object_or_404(ArchivedShow, number=number)
    step = StepForm(request.POST)
    if not step.is_valid() and {"do", "version", "place"} & step.errors.keys():
        raise BadRequest("The step was not understood.")
    status, refused, said = 200, "", ""
    try:
        if "second" in step.errors:
            raise CorrectionError(step.errors["second"][0])
        said = _take(found, step.cleaned_data, request)
    except StaleSegmentsError as error:
        status, refused = 409, str(error)
    except CorrectionError as error:
        status, refused = 422, str(error)
    found.refresh_from_db()
    if wants_fragment(request):
        context = {**_context(request, found), "refused": refused}
        response = render(request, "archive/_segments.html", context, status=status)
        return announce(response, refused or said)
    if refused:
        context = {**_context(request, found), "refused": refused}
        return render(request, "archive/show.html", context, status=status)
    messages.success(request, said)
    place = step.cleaned_data.get("place")
    return redirect(found.get_absolute_url() + (f"#segment-{place}" if place else ""))


def _take(found: ArchivedShow, step: dict[str, Any], request: HttpRequest) -> str:
    """Take the step and return what to say of it."""
    by = cast(User, request.user)
    at, place, second = (found.number, step["version"]), step["place"] or 0, step["second"]
    match step["do"]:
        case "earlier" | "later" as way:
            corrections.move_start(*at, place, cues=-1 if way == "earlier" else 1, by=by)
        case "here":
            corrections.begin_at(*at, place, second=_needed(second), by=by)
        case "split":
            corrections.split_at(*at, second=_needed(second), by=by)
        case "merge":
            corrections.merge_up(*at, place, by=by)
        case "right":
            corrections.confirm(*at, by=by)
            return "Noted: all boundaries are right."
        case "undo":
            return f"Undone: {corrections.undo(*at)[1]}."
        case "kind":
            _tell_kind(found, step, by, request.POST.get("kind", ""))
        case _:
            _save(found, step, request)
    show = ArchivedShow.objects.get(pk=found.pk)
    last = show.changes.first() if show.version != step["version"] else None
    return f"{last.what}." if last else "Nothing was changed."


def _needed(second: float | None) -> float:
    """Return a second that a step cannot do without."""
    if second is None:
        raise CorrectionError(SecondField().error_messages.get("no_time", "Give a time."))
    return second


def _tell_kind(found: ArchivedShow, step: dict[str, Any], by: User, kind: str) -> None:
    """Change what kind a segment is."""
    segment = _segment(found, step["place"])
    if kind not in Kind.values:
        raise CorrectionError("A segment is an intro, a case, a notice or an outro.")
    told = Told(kind, segment.title, segment.case_id)
    corrections.tell(found.number, step["version"], step["place"], told, by=by)


def _save(found: ArchivedShow, step: dict[str, Any], request: HttpRequest) -> None:
    """Save the form of one segment: where it begins, and what is said of it."""
    form = SegmentForm(request.POST)
    if not form.is_valid():
        raise CorrectionError(" ".join(str(words[0]) for words in form.errors.values()))
    by, version = cast(User, request.user), step["version"]
    segment = _segment(found, step["place"])
    begins, data = form.cleaned_data["begins"], form.cleaned_data
    told = Told(data["kind"], data["title"], data["case"])
    second = None if begins is None or int(begins) == int(segment.start_s) else begins
    is_told = told != Told(segment.kind, segment.title, segment.case_id)
    corrections.begin_and_tell(
        found.number,
        version,
        segment.position,
        second=second,
        told=told if is_told else None,
        by=by,
    )


def _segment(found: ArchivedShow, place: int | None) -> ArchiveSegment:
    segment = found.segments.filter(position=place or 0).first()
    if segment is None:
        raise CorrectionError(f"There is no segment {place}.")
    return segment


def _archive_context(form: CaptionsForm) -> dict[str, Any]:
    latest = list_uploads()
    return {
        "tab": "episodes",
        "shows": list_shows(),
        "form": form,
        "uploads": latest,
        "is_waiting": is_any_waiting(latest),
        "most_mb": services.MAX_BYTES // 1024**2,
    }


def _context(
    request: HttpRequest,
    found: ArchivedShow,
    second: int | None = None,
    first_cue: int | None = None,
) -> dict[str, Any]:
    page = get_show_page(found, second=second, first_cue=first_cue)
    return {
        "tab": "episodes",
        "page": page,
        "show": found,
        "kinds": Kind.choices,
        "facts": FactsForm(
            initial={"title": found.title, "on_date": found.on_date, "link": found.link}
        ),
        "episode": Episode.objects.filter(number=found.number).first(),
        "may_produce": request.user.has_perm(PRODUCE_EPISODES),
    }
