"""Telling who cases are from, in the background."""

from collections.abc import Mapping
from typing import Any

from helpdesk.core.jobs import job_handler, start_job

BATCH = 200  # cases one job looks at


@job_handler("note-people")
def note_people_job(payload: Mapping[str, Any]) -> None:
    """Link one case with its people."""
    from helpdesk.people.services import note_people

    note_people(int(payload["case"]))


@job_handler("note-all-people")
def note_all_people_job(payload: Mapping[str, Any]) -> None:
    """Link the cases after a number with their people; another job takes the rest."""
    from helpdesk.people.selectors import list_case_ids
    from helpdesk.people.services import note_people

    ids = list_case_ids(after=int(payload["after"]), limit=BATCH)
    for case_id in ids:
        note_people(case_id)
    if ids:
        start_job("note-all-people", key=f"note-all-people:{ids[-1]}", payload={"after": ids[-1]})
