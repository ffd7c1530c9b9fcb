"""Errors of the review app.

DeskError
├── WrongStateError
│   └── NothingToTakeError   nobody waits without a reviewer
└── RefusedInputError
    └── NothingAskedError    a question without a question
"""

from helpdesk.core.errors import RefusedInputError, WrongStateError


class NothingToTakeError(WrongStateError):
    """No case is waiting for somebody to take it."""


class NothingAskedError(RefusedInputError):
    """Neither a question was ticked nor own words were written."""
