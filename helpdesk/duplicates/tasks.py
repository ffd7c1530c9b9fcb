"""Looking for the same print in the background."""

from collections.abc import Mapping
from typing import Any

from helpdesk.core.jobs import job_handler


@job_handler("look-for-duplicates")
def look_for_duplicates(payload: Mapping[str, Any]) -> None:
    """Compare one case with those it resembles."""
    from helpdesk.duplicates import services

    services.look_for_duplicates(int(payload["case"]))
