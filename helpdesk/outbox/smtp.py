"""Handing letters to a mail server, with an envelope of their own (RFC 5321)."""

import contextlib
import re
import smtplib
from collections.abc import Sequence
from email.utils import parseaddr

from django.core.mail import EmailMessage, get_connection
from django.core.mail.backends.smtp import EmailBackend
from django.core.mail.message import sanitize_address

from helpdesk.outbox.errors import MailNotSentError

# A server may think for long after the last line, and giving up early sends a letter twice
# (RFC 5321 section 4.5.3.2.6 names ten minutes); it must still end before the worker's limit.
ANSWER_TIMEOUT_S = 180
_STATUS = re.compile(r"\s*([245]\.\d{1,3}\.\d{1,3})\b")  # RFC 2034: it opens the server's words
LEAST_REFUSAL = 400


class EnvelopeBackend(EmailBackend):
    """Django's backend, with the return path a letter asks for and a close that cannot fail."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        """Hand over the letters and return how many; raises what smtplib raises."""
        is_mine = self.open()
        if self.connection is None:  # told to fail in silence
            return 0
        try:
            for message in email_messages:
                self._hand_over(self.connection, message)
        finally:
            if is_mine:
                self.close()
        return len(email_messages)

    def close(self) -> None:
        """End the dialogue; a server that is gone by then has the letter all the same."""
        connection = self.connection
        with contextlib.suppress(smtplib.SMTPException, OSError):
            super().close()
        if connection:
            connection.close()

    def _hand_over(self, connection: smtplib.SMTP, message: EmailMessage) -> None:
        """Send one letter; some servers take nothing but the address one logs in with."""
        plain = parseaddr(message.from_email)[1]
        sender = getattr(message, "envelope_sender", plain)
        recipients = [sanitize_address(each, "utf-8") for each in message.recipients()]
        # Django's message takes a line end; the annotations know only its parent.
        content = message.message().as_bytes(linesep="\r\n")  # type: ignore[call-arg]
        if connection.sock:
            connection.sock.settimeout(ANSWER_TIMEOUT_S)
        try:
            connection.sendmail(sender, recipients, content)
        except smtplib.SMTPSenderRefused:
            if sender == plain:
                raise
            connection.sendmail(plain, recipients, content)


def hand_over(message: EmailMessage) -> None:
    """Send a letter by the configured backend; raises MailNotSentError when it was not taken."""
    is_open = False
    try:
        with get_connection() as connection:  # closes the socket when a greeting fails, too
            is_open = True
            connection.send_messages([message])
    except (smtplib.SMTPException, OSError) as error:
        code, words = _read_refusal(error)
        # From None: the server's words may name the person and would stand in the log.
        raise MailNotSentError(
            _describe(error, code, words),
            status=_find_status(words),
            is_unsure=is_open and code < LEAST_REFUSAL,
        ) from None


def _read_refusal(error: Exception) -> tuple[int, str]:
    """Return a server's code and words, 0 where it gave none."""
    said: tuple[int, bytes | str] = (0, "")
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        said = next(iter(error.recipients.values()))
    elif isinstance(error, smtplib.SMTPResponseException):
        said = (error.smtp_code, error.smtp_error)
    code, words = said
    return code, words.decode(errors="replace") if isinstance(words, bytes) else words


def _describe(error: Exception, code: int, words: str) -> str:
    """Return what went wrong as a sentence."""
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        return f"The mail server refused the recipient: {code} {words}"
    if code:
        return f"The mail server answered {code} {words}"
    return f"The mail server could not be used: {type(error).__name__} {error}"


def _find_status(words: str) -> str:
    """Return the code of RFC 3463 in a server's words, or ""."""
    found = _STATUS.match(words)
    return found[1] if found else ""
