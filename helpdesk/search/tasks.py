"""Indexing in the background."""

from collections.abc import Mapping
from typing import Any

from helpdesk.core.jobs import job_handler


@job_handler("index-case")
def index_case_job(payload: Mapping[str, Any]) -> None:
    """Index one case."""
    from helpdesk.search.services import index_case

    index_case(int(payload["case"]))
