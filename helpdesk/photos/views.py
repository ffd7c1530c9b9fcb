"""Photos for people of the desk."""

from django.http import FileResponse, HttpRequest
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from helpdesk.accounts.access import needs_any
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES
from helpdesk.photos.models import Photo
from helpdesk.photos.responses import photo_response


@require_safe
@needs_any(REVIEW_CASES, PRODUCE_EPISODES)
def photo(request: HttpRequest, photo_id: int, size: str) -> FileResponse:
    """Show a photo of a case. Permissions: review cases or produce episodes."""
    found = get_object_or_404(Photo, pk=photo_id, case__isnull=False)
    return photo_response(found, size)
