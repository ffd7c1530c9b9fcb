"""Errors of the diagnosis app.

DeskError
└── RefusedInputError
    └── UnknownThingError   the knowledge has nothing of that name
"""

from helpdesk.core.errors import RefusedInputError


class UnknownThingError(RefusedInputError):
    """The knowledge has no fault, finding, action, caution or danger of that name."""

    def __init__(self, kind: str, name: str) -> None:
        """Say what was asked for, in words a person of the desk may read."""
        super().__init__(f"The desk knows no {kind} called “{name[:60]}”.")
        self.kind = kind
        self.name = name
