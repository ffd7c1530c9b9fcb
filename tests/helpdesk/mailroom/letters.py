"""Letters for tests, made with the standard library."""

import itertools
from collections.abc import Mapping, Sequence
from email import policy
from email.message import EmailMessage
from typing import Any

from tests.helpdesk.pictures import draw_noise, picture_bytes

_numbers = itertools.count(1)
PERSON = "Bettine Halvorsen <bettine@tarnstreet.example>"
DESK = "Printward <clinic@marrowlane.example>"
STORY = "The corners of my box curl up from the plate after an hour."


def letter(
    text: str = STORY,
    *,
    sender: str = PERSON,
    to: str = DESK,
    subject: str = "Box with lifted corners",
    message_id: str | None = None,
    photos: int = 0,
    html: str = "",
    files: Sequence[tuple[str, bytes]] = (),
    more: Mapping[str, str] | None = None,
    **fields: Any,
) -> bytes:
    """Return a letter as bytes; more fields are given by name, with _ for -."""
    message = EmailMessage()
    message["From"], message["To"], message["Subject"] = sender, to, subject
    message["Date"] = "Wed, 18 Nov 2026 10:30:00 +0000"
    if message_id != "":
        message["Message-ID"] = message_id or f"<{next(_numbers)}.letter@tarnstreet.example>"
    for name, value in {**fields, **(more or {})}.items():
        message[name.replace("_", "-")] = value
    message.set_content(text)
    if html:
        message.add_alternative(html, subtype="html")
    for number in range(photos):
        picture = picture_bytes(draw_noise(240, 180, seed=number + 1))
        message.add_attachment(
            picture, maintype="image", subtype="jpeg", filename=f"photo-{number}.jpg"
        )
    for name, data in files:
        message.add_attachment(data, maintype="application", subtype="octet-stream", filename=name)
    return message.as_bytes(policy=policy.SMTP)


def plain(*lines: str) -> bytes:
    """Return a letter written line by line, as no library would."""
    return "\r\n".join(lines).encode("utf-8", errors="surrogateescape")
