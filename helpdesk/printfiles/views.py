"""Downloads of print files and models, for people of the desk."""

from django.http import FileResponse, Http404, HttpRequest
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from helpdesk.accounts.access import needs_any
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES
from helpdesk.core.http import download_response
from helpdesk.printfiles.models import CaseFile, file_storage


@require_safe
@needs_any(REVIEW_CASES, PRODUCE_EPISODES)
def case_file(request: HttpRequest, file_id: int) -> FileResponse:
    """Hand out a file as sent. Permissions: review cases or produce episodes."""
    found = get_object_or_404(CaseFile, pk=file_id)
    try:
        content = file_storage().open(str(found.file.name))
    except FileNotFoundError as error:
        raise Http404("No such file.") from error
    return download_response(content, label=found.label)
