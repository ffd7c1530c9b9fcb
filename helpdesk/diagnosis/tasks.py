"""Running the engine in the background."""

from collections.abc import Mapping
from typing import Any

from helpdesk.core.jobs import job_handler
from helpdesk.diagnosis.services import diagnose_case


@job_handler("diagnose-case")
def run_diagnosis(payload: Mapping[str, Any]) -> None:
    """Run the engine on one case."""
    diagnose_case(int(payload["case"]), cause=str(payload["cause"]))
