"""Errors of the outbox.

DeskError
└── MailNotSentError   the mail server did not take a letter; it will be tried again
"""

from helpdesk.core.errors import DeskError


class MailNotSentError(DeskError):
    """The mail server did not take a letter; the message holds no address of a person.

    `status` is the server's code of RFC 3463, "" where it gave none; `is_unsure` says that the
    dialogue broke off where the server may have taken the letter all the same.
    """

    def __init__(self, words: str, *, status: str = "", is_unsure: bool = False) -> None:
        """Keep what the server said."""
        super().__init__(words)
        self.status = status
        self.is_unsure = is_unsure
