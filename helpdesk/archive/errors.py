"""Errors the archive raises on purpose."""

from helpdesk.core.errors import RefusedInputError, StaleVersionError, WrongStateError


class CaptionsRefusedError(RefusedInputError):
    """A file cannot be used as captions; the message says why."""


class StaleSegmentsError(StaleVersionError):
    """Somebody else changed the segments in the meantime."""


class CorrectionError(WrongStateError):
    """A correction does not fit the segments as they are; the message says why."""
