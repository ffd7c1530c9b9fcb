"""Errors of the diagnosis app.

DeskError
├── RefusedInputError
│   └── UnknownThingError   the knowledge has nothing of that name
└── WrittenOnceError        the row is kept as it was written
"""

from helpdesk.core.errors import DeskError, RefusedInputError


class UnknownThingError(RefusedInputError):
    """The knowledge has no fault, finding, action, caution or danger of that name."""

    def __init__(self, kind: str, name: str) -> None:
        """Say what was asked for, in words a person of the desk may read."""
        super().__init__(f"The desk knows no {kind} called “{name[:60]}”.")
        self.kind = kind
        self.name = name


class WrittenOnceError(DeskError):
    """Revisions of the knowledge and their switches are added, never changed or removed."""
