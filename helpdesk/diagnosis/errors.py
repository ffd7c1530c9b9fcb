"""Errors of the diagnosis app.

DeskError
├── RefusedInputError
│   └── UnknownThingError   the knowledge has nothing of that name
├── WrongStateError
│   ├── NotBlindError       somebody who has worked on a case cannot look at it blind
│   └── OpinionClosedError  an opinion that was closed stays as it is
└── WrittenOnceError        the row is kept as it was written
"""

from helpdesk.core.errors import DeskError, RefusedInputError, WrongStateError


class UnknownThingError(RefusedInputError):
    """The knowledge has no fault, finding, action, caution or danger of that name."""

    def __init__(self, kind: str, name: str) -> None:
        """Say what was asked for, in words a person of the desk may read."""
        super().__init__(f"The desk knows no {kind} called “{name[:60]}”.")
        self.kind = kind
        self.name = name


class NotBlindError(WrongStateError):
    """A reviewer who has worked on a case cannot give a blind opinion on it."""


class OpinionClosedError(WrongStateError):
    """An opinion was closed, after which its reviewer may have seen the rest; it stays."""


class WrittenOnceError(DeskError):
    """Revisions of the knowledge and their switches are added, never changed or removed."""
