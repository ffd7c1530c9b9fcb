"""Links that tell one outcome with one press, signed so that nobody can make one up.

A link opens a page that tells and shows nothing else of the case. Programs that open every link of
a letter change nothing: what is kept is kept by the press of a button (the unsafe methods of
RFC 9110 section 9.2.1).
"""

import datetime
import re
from dataclasses import dataclass

from django.conf import settings
from django.urls import reverse
from django.utils.crypto import constant_time_compare

from helpdesk.cases.models import Case, OutcomeResult
from helpdesk.cases.services import LINK_LIFE
from helpdesk.core import clock
from helpdesk.outbox.addresses import sign_number

ANY = "any"  # a link on whose page each result can be told
SAYINGS = {
    OutcomeResult.WORKED.value: "It worked",
    OutcomeResult.PARTLY.value: "It helped a little",
    OutcomeResult.DID_NOT_WORK.value: "It did not work",
    OutcomeResult.NOT_TRIED.value: "I have not tried it yet",
    OutcomeResult.GAVE_UP.value: "I have given it up",
}
_TOKEN = re.compile(
    r"(?P<case>[1-9]\d{0,17})-(?P<day>\d{1,7})-(?P<result>[a-z_]{1,10})-(?P<signature>[a-z2-7]{16})"
)


@dataclass(frozen=True)
class Tap:
    """What a link stands for: a case, and a result or ANY."""

    case_id: int
    result: str


def make_token(case_id: int, result: str) -> str:
    """Return the end of a link made today for a result, or for ANY."""
    day = clock.today().toordinal()
    return f"{case_id}-{day}-{result}-{_sign(case_id, day, result)}"


def read_token(token: str) -> Tap | None:
    """Return what a link stands for, or None when it is made up or too old."""
    found = _TOKEN.fullmatch(token)
    if found is None or found["result"] not in (ANY, *SAYINGS):
        return None
    case_id, day = int(found["case"]), int(found["day"])
    if not constant_time_compare(found["signature"], _sign(case_id, day, found["result"])):
        return None
    made_on = datetime.date.fromordinal(day)
    return Tap(case_id, found["result"]) if clock.today() - made_on <= LINK_LIFE else None


def link_to_tell(case: Case, result: str = ANY) -> str:
    """Return the whole address of the page that tells a result."""
    path = reverse("followup:tell", args=[make_token(case.pk, result)])
    return settings.DESK_ADDRESS.rstrip("/") + path


def _sign(case_id: int, day: int, result: str) -> str:
    return sign_number(case_id, use=f"helpdesk.followup.links:{day}:{result}")
