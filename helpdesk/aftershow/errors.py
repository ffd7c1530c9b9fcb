"""Errors of what comes after a show.

DeskError
├── RefusedInputError
│   └── NotNamedError   a text names somebody who is not to be named; holds the sentences
└── WrongStateError
    └── NoPlaceError    there is nowhere to put it
"""

from collections.abc import Sequence

from helpdesk.core.errors import RefusedInputError, WrongStateError


class NotNamedError(RefusedInputError):
    """A text names somebody who is not to be named."""

    def __init__(self, sentences: Sequence[str]) -> None:
        """Keep the sentences, one for each name."""
        super().__init__(" ".join(sentences))
        self.sentences = list(sentences)


class NoPlaceError(WrongStateError):
    """There is nowhere to put it."""
