"""What the worker does now and then."""

from helpdesk.core.jobs import regular_round
from helpdesk.printfiles.services import purge_stray_files


@regular_round("purge-stray-case-files")
def purge_round() -> None:
    """Delete files that no row names."""
    purge_stray_files()
