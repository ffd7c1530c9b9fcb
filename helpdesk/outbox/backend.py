"""The mail backend of the embedded shape: letters land in a folder where they can be read."""

import os
from collections.abc import Sequence
from pathlib import Path

from django.conf import settings
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend

from helpdesk.core import clock


class OutboxFolderBackend(BaseEmailBackend):
    """Write each letter as one .eml file (RFC 5322), whole or not at all."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        """Write the letters and return how many."""
        folder = Path(settings.OUTBOX_DIR)
        folder.mkdir(parents=True, exist_ok=True)
        for number, message in enumerate(email_messages):
            stamp = clock.now().strftime("%Y%m%dT%H%M%S%f")
            path = folder / f"{stamp}-{os.getpid()}-{number}.eml"
            partial = path.with_suffix(".part")
            partial.write_bytes(message.message().as_bytes(linesep="\r\n"))
            partial.replace(path)
        return len(email_messages)
