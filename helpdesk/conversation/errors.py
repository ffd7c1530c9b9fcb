"""Errors of recurring texts.

DeskError
└── StaleVersionError
    └── StaleTextError   somebody else saved the text first
"""

from helpdesk.conversation.models import SetText
from helpdesk.core.errors import StaleVersionError


class StaleTextError(StaleVersionError):
    """Somebody else saved the text first; `current` is what stands there now."""

    def __init__(self, current: SetText) -> None:
        """Keep the text as it is now."""
        super().__init__(f"{current.title} was saved by somebody else.")
        self.current = current
