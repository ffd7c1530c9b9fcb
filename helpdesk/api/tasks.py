"""What the worker does for the API."""

from collections.abc import Mapping
from typing import Any

from helpdesk.api.keys import purge_keys
from helpdesk.api.pictures import fetch_picture
from helpdesk.api.uploads import purge_uploads
from helpdesk.core.jobs import job_handler, regular_round


@job_handler("fetch-note-picture")
def fetch_note_picture(payload: Mapping[str, Any]) -> None:
    """Fetch one picture of a post."""
    fetch_picture(int(payload["picture"]))


@regular_round("api-keys")
def purge_old_keys() -> None:
    """Forget idempotency keys after their time."""
    purge_keys()


@regular_round("api-uploads")
def purge_old_uploads() -> None:
    """Forget uploads nobody used."""
    purge_uploads()
