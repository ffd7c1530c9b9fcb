"""Errors of the episodes app.

DeskError
├── StaleVersionError
│   ├── StaleSheetError    parts were added, removed or moved by somebody else meanwhile
│   ├── StaleDetailsError  the episode's own fields were; holds the episode as it is now
│   └── StalePartError     a part's words were; holds the part as it is now
├── RefusedInputError
│   ├── KindInUseError     a kind of part cannot go while parts are of it
│   └── PictureRefusedError    a photo may not be shown in this part
└── WrongStateError
    ├── EpisodeOutError    an episode that is out cannot be changed
    ├── NotOnAirError      a show cannot end before it began
    └── NotReadyError      something that must be there is missing; holds the sentences
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from helpdesk.core.errors import RefusedInputError, StaleVersionError, WrongStateError

if TYPE_CHECKING:
    from helpdesk.episodes.models import Episode, Segment


class StaleSheetError(StaleVersionError):
    """The run sheet was changed by somebody else meanwhile."""


class StaleDetailsError(StaleVersionError):
    """An episode's own fields were changed by somebody else since they were shown."""

    def __init__(self, current: "Episode") -> None:
        """Keep the episode as it is now, so that both versions can be shown."""
        super().__init__(f"Episode {current.number} is at version {current.details_version}.")
        self.current = current


class StalePartError(StaleVersionError):
    """A part was changed by somebody else since it was shown."""

    def __init__(self, current: "Segment") -> None:
        """Keep the part as it is now, so that both versions can be shown."""
        super().__init__(f"Part {current.pk} is at version {current.version} by now.")
        self.current = current


class KindInUseError(RefusedInputError):
    """A kind of part cannot go while parts are of it."""


class PictureRefusedError(RefusedInputError):
    """A photo may not be shown in this part."""


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
