"""Preparing photos and clearing away unsent ones in the background."""

from collections.abc import Mapping
from typing import Any

from helpdesk.core.jobs import job_handler, regular_round
from helpdesk.photos import services


@job_handler("prepare-photo")
def prepare_photo(payload: Mapping[str, Any]) -> None:
    """Make the renditions of one photo."""
    services.prepare_photo(int(payload["photo"]))


@regular_round("purge-stale-drafts")
def purge_stale_drafts() -> None:
    """Remove photos of forms that were never sent."""
    services.purge_stale_drafts()


@regular_round("purge-stray-files")
def purge_stray_files() -> None:
    """Remove files whose process was killed before their row was written."""
    services.purge_stray_files()
