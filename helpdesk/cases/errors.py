"""Errors of the cases app.

DeskError
├── StaleVersionError
│   └── StaleCaseError     holds the case as it is now
└── WrongStateError
    ├── AlreadyTakenError  somebody else has the case
    ├── JoinError          the two cases cannot be joined, or are not
    └── TransitionError    the state machine has no such step
"""

from typing import TYPE_CHECKING

from helpdesk.core.errors import StaleVersionError, WrongStateError

if TYPE_CHECKING:
    from helpdesk.cases.models import Case


class StaleCaseError(StaleVersionError):
    """The case was saved by somebody else since it was shown."""

    def __init__(self, current: "Case") -> None:
        """Keep the case as it is now, so that both versions can be shown."""
        super().__init__(f"Case {current.pk} is at version {current.version} by now.")
        self.current = current


class AlreadyTakenError(WrongStateError):
    """Somebody else has the case."""


class JoinError(WrongStateError):
    """The two cases cannot be joined, or the case is joined to none."""


class TransitionError(WrongStateError):
    """The state machine has no such step."""
