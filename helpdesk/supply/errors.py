"""Errors of the supply app.

DeskError
├── RefusedInputError
│   └── RefusedWordsError   what was written cannot be kept; the message says why
├── StaleVersionError
│   └── StaleWordsError     somebody else changed the words since they were shown
└── WrongStateError
    └── NotReadyError       a notice still needs something; holds the sentences
"""

from collections.abc import Sequence

from helpdesk.core.errors import RefusedInputError, StaleVersionError, WrongStateError


class RefusedWordsError(RefusedInputError):
    """What was written cannot be kept; the message says why."""


class StaleWordsError(StaleVersionError):
    """Somebody else changed the words since they were shown."""


class NotReadyError(WrongStateError):
    """A notice still needs something before everybody may read it."""

    def __init__(self, needs: Sequence[str]) -> None:
        """Keep the sentences that say what is missing."""
        super().__init__(" ".join(needs))
        self.needs = tuple(needs)
