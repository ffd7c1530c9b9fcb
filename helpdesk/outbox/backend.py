"""The mail backend of the embedded shape: letters land in a folder where they can be read."""

import hashlib
import os
from collections.abc import Iterable, Sequence
from pathlib import Path

from django.conf import settings
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend

from helpdesk.core import clock

OWN_EYES = 0o600  # letters hold private addresses


class OutboxFolderBackend(BaseEmailBackend):
    """Write each letter as one .eml file (RFC 5322), whole or not at all."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        """Write the letters and return how many."""
        folder = Path(settings.OUTBOX_DIR)
        folder.mkdir(parents=True, exist_ok=True)
        for message in email_messages:
            letter = message.message()
            path = _path_of(folder, letter["Message-ID"])
            # Django's message takes a line end; the annotations know only its parent.
            content = letter.as_bytes(linesep="\r\n")  # type: ignore[call-arg]
            _write_whole(path, content)
        return len(email_messages)


def remove_letter_files(message_ids: Iterable[str]) -> None:
    """Delete the files of letters by their Message-IDs."""
    folder = Path(settings.OUTBOX_DIR)
    for message_id in message_ids:
        for path in folder.glob(f"*-{_name_of(message_id)}.eml"):
            path.unlink(missing_ok=True)


def _path_of(folder: Path, message_id: str) -> Path:
    """Return where a letter stands: one that was written before a crash is written over."""
    name = _name_of(message_id)
    stamp = clock.now().strftime("%Y%m%dT%H%M%S%f")
    return next(folder.glob(f"*-{name}.eml"), folder / f"{stamp}-{name}.eml")


def _name_of(message_id: str) -> str:
    """Return a file name for a letter that tells nothing about it."""
    return hashlib.sha256(message_id.encode()).hexdigest()[:24]


def _write_whole(path: Path, content: bytes) -> None:
    """Write a file under another name, down to the disk, and only then give it its own."""
    partial = path.with_suffix(".part")
    handle = os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, OWN_EYES)
    with os.fdopen(handle, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    partial.replace(path)
