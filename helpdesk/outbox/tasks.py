"""Sending letters in the background."""

from collections.abc import Mapping
from typing import Any

from helpdesk.core.jobs import job_handler
from helpdesk.outbox.services import deliver_mail


@job_handler("send-mail")
def send_mail(payload: Mapping[str, Any]) -> None:
    """Send one letter."""
    deliver_mail(int(payload["mail"]))
