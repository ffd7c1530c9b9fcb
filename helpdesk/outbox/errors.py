"""Errors of the outbox.

DeskError
└── MailNotSentError   the mail server did not take a letter; it will be tried again
"""

from helpdesk.core.errors import DeskError


class MailNotSentError(DeskError):
    """The mail server did not take a letter; the message holds no address of a person."""
