"""Errors of the answers app.

DeskError
├── StaleVersionError
│   └── StaleAnswerError   holds the draft as it is now
├── WrongStateError
│   ├── AlreadySentError   holds the answer that went out
│   └── CautionsChangedError   the desk put cautions in that the writer has not read
└── RefusedInputError
    └── NotPublishableError   consent, a name or a description stands in the way
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from helpdesk.core.errors import RefusedInputError, StaleVersionError, WrongStateError

if TYPE_CHECKING:
    from helpdesk.answers.cautions import Caution
    from helpdesk.answers.models import Answer


class StaleAnswerError(StaleVersionError):
    """The draft was saved by somebody else since it was shown."""

    def __init__(self, current: "Answer") -> None:
        """Keep the draft as it is now, so that both texts can be shown."""
        super().__init__(f"Answer {current.pk} is at version {current.version} by now.")
        self.current = current


class AlreadySentError(WrongStateError):
    """The answer has gone out; nothing is sent twice."""

    def __init__(self, answer: "Answer") -> None:
        """Keep the answer that went out."""
        super().__init__(f"Answer {answer.pk} was sent.")
        self.answer = answer


class CautionsChangedError(WrongStateError):
    """The desk put cautions into the draft; it is saved, and not sent before it is read again."""

    def __init__(self, answer: "Answer", cautions: "Sequence[Caution]") -> None:
        """Keep the draft and the cautions that were put in."""
        super().__init__(f"Answer {answer.pk} has cautions its writer has not read.")
        self.answer = answer
        self.cautions = tuple(cautions)


class NotPublishableError(RefusedInputError):
    """The answer cannot be shown in public; the message says why."""
