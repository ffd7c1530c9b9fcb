"""Errors of the mailroom."""

from helpdesk.core.errors import DeskError, RefusedInputError, WrongStateError


class AlreadyDecidedError(WrongStateError):
    """Somebody decided about this letter already."""


class LetterRefusedError(RefusedInputError):
    """What was given as a letter cannot be kept; the message says why."""


class MailboxError(DeskError):
    """A mailbox could not be read; the message says why, without its password."""
