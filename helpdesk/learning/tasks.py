"""Learning in the background."""

from collections.abc import Mapping
from typing import Any

from helpdesk.accounts.models import User
from helpdesk.core.jobs import job_handler
from helpdesk.learning.selectors import LEARNING
from helpdesk.learning.services import make_revision


@job_handler(LEARNING)
def learn(payload: Mapping[str, Any]) -> None:
    """Make the revision somebody asked for."""
    by = User.objects.filter(pk=payload["by"]).first()
    make_revision(int(payload["number"]), by=by, note=str(payload["note"]))
