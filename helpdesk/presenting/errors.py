"""Errors of the presenting app.

DeskError
└── RefusedInputError
    └── EventNotUnderstoodError    what a presenter’s page sent is no event of a show
"""

from helpdesk.core.errors import RefusedInputError


class EventNotUnderstoodError(RefusedInputError):
    """What a presenter’s page sent is no event of a show."""
