"""A real mail server on the loopback address."""

import socket
from collections.abc import Iterator
from email import message_from_bytes, policy
from email.message import EmailMessage
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

from helpdesk.cases.models import Case
from tests.factories import make_case


class Post:
    """What the server does with letters: keep them, or refuse as told."""

    def __init__(self) -> None:
        """Begin with an empty box and no refusal."""
        self.raw: list[bytes] = []
        self.recipients: list[str] = []
        self.senders: list[str] = []
        self.refusal = ""
        self.only_sender = ""

    async def handle_MAIL(  # noqa: N802 - the server's own name
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[Any]
    ) -> str:
        """Take a return path, or one alone as told."""
        if self.only_sender and address != self.only_sender:
            return "553 5.7.1 not your address"
        envelope.mail_from = address
        return "250 OK"

    async def handle_RCPT(  # noqa: N802 - the server's own name
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[Any]
    ) -> str:
        """Take a recipient unless told to refuse; the refusal names the address, as many do."""
        if self.refusal:
            return f"{self.refusal} <{address}>"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(  # noqa: N802 - the server's own name
        self, server: SMTP, session: Session, envelope: Envelope
    ) -> str:
        """Keep a letter as it came over the wire."""
        assert isinstance(envelope.original_content, bytes)
        self.raw.append(envelope.original_content)
        self.recipients.extend(envelope.rcpt_tos)
        sender = envelope.mail_from or ""
        self.senders.append("" if sender == "<>" else sender)
        return "250 kept"

    @property
    def letters(self) -> list[EmailMessage]:
        """Return the letters, read strictly: any defect is an error."""
        strict = policy.SMTP.clone(raise_on_defect=True)
        return [message_from_bytes(raw, policy=strict) for raw in self.raw]


@pytest.fixture
def post(settings: Any) -> Iterator[Post]:
    """Run a mail server and let the desk use it."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    box = Post()
    controller = Controller(box, hostname="127.0.0.1", port=port)
    controller.start()
    settings.EMAIL_BACKEND = "helpdesk.outbox.smtp.EnvelopeBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", port
    settings.EMAIL_USE_TLS, settings.EMAIL_HOST_USER = False, ""
    settings.EMAIL_TIMEOUT = 5
    yield box
    controller.stop()


@pytest.fixture
def case(db: None) -> Case:
    """Open a case whose person reads mail."""
    return make_case(title="Box with lifted corners")
