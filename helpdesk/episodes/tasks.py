"""What episodes do in the background."""

from collections.abc import Mapping
from typing import Any

from helpdesk.core.jobs import job_handler


@job_handler("forget-case")
def forget_case_job(payload: Mapping[str, Any]) -> None:
    """Take an erased case's words out of the run sheets."""
    from helpdesk.episodes.services import forget_case

    forget_case(int(payload["case"]))
