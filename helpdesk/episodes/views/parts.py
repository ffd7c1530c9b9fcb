"""One part of a run sheet: what it says, shows and how long it takes."""

from typing import cast

from django import forms
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from helpdesk.accounts.models import User
from helpdesk.episodes import services
from helpdesk.episodes.errors import EpisodeOutError, PictureRefusedError, StalePartError
from helpdesk.episodes.forms import PicturesForm, SegmentForm
from helpdesk.episodes.lengths import POINT_FACTOR
from helpdesk.episodes.models import Segment
from helpdesk.episodes.selectors import get_run_sheet, list_presenters, list_showable_photos
from helpdesk.episodes.views.access import may_produce
from helpdesk.episodes.views.conflicts import differences, stored_pictures, with_version


@require_http_methods(["GET", "POST"])
@may_produce
def edit_part(request: HttpRequest, number: int, part: int) -> HttpResponse:
    """Change what a part says, shows and how long it takes."""
    segment = find_part(number, part)
    photos = list_showable_photos(segment)
    data = request.POST or None
    form = SegmentForm(data, instance=segment)
    pictures = PicturesForm(data, photos=photos, segment=segment)
    status, more = 200, {}
    if request.method == "POST":
        status = 422
        if form.is_valid() and pictures.is_valid():
            try:
                _save(request, segment, form, pictures)
                return redirect(segment.episode)
            except StalePartError as error:
                status, more = 409, _conflict(form, pictures, error.current)
                fresh = with_version(request.POST, error.current.version)
                form = SegmentForm(fresh, instance=error.current)
            except (EpisodeOutError, PictureRefusedError) as error:
                form.add_error(None, str(error))
            except ValidationError as error:  # another part took the slug a moment ago
                form.add_error(None, forms.ValidationError(error.messages))
    context = _context(number, part) | {"form": form, "pictures": pictures} | more
    return render(request, "episodes/part_form.html", context, status=status)


def find_part(number: int, part: int) -> Segment:
    """Return a part of an episode, or 404 when it belongs to another."""
    return get_object_or_404(
        Segment.objects.select_related("episode", "case", "own_kind", "edited_by"),
        pk=part,
        episode__number=number,
    )


def _save(
    request: HttpRequest, segment: Segment, form: SegmentForm, pictures: PicturesForm
) -> None:
    """Store both halves of the form against the version they were filled in at."""
    services.change_segment(
        segment,
        form.cleaned_data,
        pictures=pictures.choices if pictures.photos else None,
        version=form.cleaned_data["version"],
        actor=cast(User, request.user),
    )


def _conflict(form: SegmentForm, pictures: PicturesForm, current: Segment) -> dict[str, object]:
    """Return what the page shows of a save that came second."""
    stored = {picture.photo_id: picture.seconds for picture in current.pictures.all()}
    typed = {choice.photo_id: choice.seconds for choice in pictures.choices}
    return {
        "conflict": differences(form, SegmentForm(instance=current)),
        "conflict_by": current.edited_by,
        "conflict_at": current.edited_at,
        "pictures_now": stored_pictures(stored)
        if list(stored.items()) != list(typed.items())
        else "",
    }


def _context(number: int, part: int) -> dict[str, object]:
    """Return what the page of a part shows beside its form."""
    segment = find_part(number, part)
    rows = get_run_sheet(segment.episode).rows
    return {
        "tab": "episodes",
        "segment": segment,
        "episode": segment.episode,
        "row": next(row for row in rows if row.segment.pk == part),
        "presenters": list_presenters(),
        "point_factor": POINT_FACTOR,
    }
