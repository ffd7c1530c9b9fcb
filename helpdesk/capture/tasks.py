"""What the worker does for tables."""

from collections.abc import Mapping
from typing import Any

from helpdesk.core.jobs import job_handler, regular_round


@job_handler("import-table")
def import_table(payload: Mapping[str, Any]) -> None:
    """Take the next rows of a table."""
    from helpdesk.capture.imports import import_some

    import_some(int(payload["table"]))


@regular_round("old-tables")
def purge_old_tables() -> None:
    """Remove tables nobody went on with, and what was refused long ago."""
    from helpdesk.capture import imports

    imports.purge_old_tables()
    imports.purge_stray_files()
