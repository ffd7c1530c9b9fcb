"""What the archive does in the background."""

from collections.abc import Mapping
from typing import Any

from helpdesk.core.jobs import job_handler


@job_handler("import-captions")
def import_captions_job(payload: Mapping[str, Any]) -> None:
    """Import a file that came by the page."""
    from helpdesk.archive.services import take_upload

    take_upload(int(payload["upload"]))


@job_handler("read-archive-again")
def read_archive_again_job(payload: Mapping[str, Any]) -> None:
    """Read the faults of corrected segments and index their show."""
    from helpdesk.archive.corrections import read_again

    read_again(int(payload["number"]))
