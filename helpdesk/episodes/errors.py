"""Errors of the episodes app.

DeskError
├── StaleVersionError
│   └── StaleSheetError    the run sheet was changed by somebody else meanwhile
└── WrongStateError
    ├── EpisodeOutError    an episode that is out cannot be changed
    ├── NotOnAirError      a show cannot end before it began
    └── NotReadyError      something that must be there is missing; holds the sentences
"""

from collections.abc import Sequence

from helpdesk.core.errors import StaleVersionError, WrongStateError


class StaleSheetError(StaleVersionError):
    """The run sheet was changed by somebody else meanwhile."""


class EpisodeOutError(WrongStateError):
    """An episode that is out cannot be changed."""


class NotOnAirError(WrongStateError):
    """A show cannot end before it began."""


class NotReadyError(WrongStateError):
    """Something that must be there is missing."""

    def __init__(self, missing: Sequence[str]) -> None:
        """Keep the sentences that say what is missing."""
        super().__init__("; ".join(missing))
        self.missing = list(missing)
