"""What episodes do in the background."""

from collections.abc import Mapping
from typing import Any

from helpdesk.core.jobs import job_handler


@job_handler("forget-case")
def forget_case_job(payload: Mapping[str, Any]) -> None:
    """Take an erased case's words out of the run sheets."""
    from helpdesk.episodes.erasure import forget_case
    from helpdesk.episodes.withdrawals import SHOW_USES, note_withdrawal

    case_id = int(payload["case"])
    note_withdrawal(case_id, key=f"erased:{case_id}", uses=SHOW_USES)
    forget_case(case_id)


@job_handler("note-withdrawal")
def note_withdrawal_job(payload: Mapping[str, Any]) -> None:
    """Tell the producer what a person took back."""
    from helpdesk.episodes.withdrawals import note_withdrawal

    note_withdrawal(int(payload["case"]), key=payload["key"], uses=payload["uses"])
