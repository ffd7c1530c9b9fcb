"""What the worker does with letters."""

from collections.abc import Mapping
from typing import Any

from helpdesk.core.jobs import job_handler, regular_round
from helpdesk.mailroom import services


@job_handler("take-mail")
def take_mail(payload: Mapping[str, Any]) -> None:
    """Take one letter."""
    services.take_letter(int(payload["mail"]))


@regular_round("waiting-letters")
def plan_waiting_letters() -> None:
    """Plan letters that were kept and never taken."""
    services.plan_waiting_letters()


@regular_round("purge-stray-letters")
def purge_stray_files() -> None:
    """Delete files that no row names."""
    services.purge_stray_files()


@regular_round("mailboxes")
def poll_mailboxes() -> None:
    """Fetch new letters."""
    from helpdesk.mailroom import polling

    polling.poll_mailboxes(services.receive_and_plan)
