"""Answered cases and days that pass, for the tests of follow-up."""

import datetime
from contextlib import AbstractContextManager
from typing import Any

from helpdesk.cases.models import Case, CaseState
from helpdesk.cases.services import change_state
from helpdesk.core import clock
from tests.factories import make_case

START = datetime.datetime(2026, 10, 1, 9, 0, tzinfo=datetime.UTC)


def on_day(day: int) -> AbstractContextManager[None]:
    """Let the clock stand so many days after the answers of `answered`."""
    return clock.standing_at(START + datetime.timedelta(days=day))


def answered(**fields: Any) -> Case:
    """Make a case answered on day 0 and to be asked about on day 14."""
    with on_day(0):
        case = make_case(**fields)
        change_state(case, CaseState.ANSWERED)
        case.follow_up_on = clock.today() + datetime.timedelta(days=14)
        case.save(update_fields=["follow_up_on"])
    return case
