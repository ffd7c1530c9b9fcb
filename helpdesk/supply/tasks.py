"""Linking cases with what they name, in the background."""

from collections.abc import Mapping
from typing import Any

from helpdesk.core.jobs import job_handler, start_job

BATCH = 200  # cases one job looks at


@job_handler("note-subjects")
def note_subjects_job(payload: Mapping[str, Any]) -> None:
    """Link one case with what its facts name."""
    from helpdesk.supply.services import note_subjects

    note_subjects(int(payload["case"]))


@job_handler("note-all-subjects")
def note_all_subjects_job(payload: Mapping[str, Any]) -> None:
    """Link the cases after a number with what they name; another job takes the rest."""
    from helpdesk.people.selectors import list_case_ids
    from helpdesk.supply.services import note_subjects

    ids = list_case_ids(after=int(payload["after"]), limit=BATCH)
    for case_id in ids:
        note_subjects(case_id)
    if ids:
        start_job(
            "note-all-subjects", key=f"note-all-subjects:{ids[-1]}", payload={"after": ids[-1]}
        )
