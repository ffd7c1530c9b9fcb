"""A letter as it goes over the wire: headers, plain part, HTML part, and who hears of a failure.

The HTML part is made from the plain text, so the two never say different things. Both are sent as
quoted-printable (RFC 2045 section 6.7): no line is longer than 76 characters and no server needs to
know 8BITMIME.
"""

import re
from dataclasses import dataclass
from email.charset import QP, Charset
from email.utils import parseaddr

from django.conf import settings
from django.core.mail import EmailMessage, EmailMultiAlternatives
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.html import conditional_escape, format_html, format_html_join
from django.utils.safestring import SafeString

from helpdesk.outbox.addresses import reply_address
from helpdesk.outbox.marks import NOTICES, make_token
from helpdesk.outbox.models import MailKind, OutgoingMail

WIRE = Charset("utf-8")
WIRE.body_encoding = QP
FOOTER_LEAD = "You get this because the desk looked at your print. To stop letters like this: "
# A short opening such as "What we see:" is set off; a sentence with a colon in it is not.
_LEAD = re.compile(r"[A-Z][\w’' -]{2,34}:(?=\s)")
_LINK = re.compile(r"https?://[^\s<>\"]+[^\s<>\".,;:!?)\]’”]")
_ITEM = "- "


class DeskMessage(EmailMultiAlternatives):
    """A letter with the address its failure is reported to; "" asks for no report at all."""

    envelope_sender: str = ""


@dataclass(frozen=True)
class Block:
    """A paragraph, or a list with the line that leads to it."""

    lead: SafeString | str
    items: tuple[SafeString, ...] = ()


def compose(mail: OutgoingMail, *, text: str, thread: list[str]) -> EmailMessage:
    """Return a letter ready to be handed over; `thread` is the ids before it, its parent last.

    A receipt is plain text alone and asks for no report of failure (RFC 3834 sections 3.2 and 3.3).
    """
    footer_link = notices_link(mail.to) if mail.kind in NOTICES else ""
    plain = f"{text.rstrip()}\n"
    if footer_link:
        plain += f"\n-- \n{FOOTER_LEAD}{footer_link}\n"
    reply_to = reply_address(mail.case_id) if mail.case_id else ""
    message = DeskMessage(
        subject=mail.subject,
        body=plain,
        to=[mail.to],
        reply_to=[reply_to] if reply_to else None,
        headers=_headers(mail, thread, footer_link),
    )
    message.encoding = WIRE
    if mail.kind == MailKind.RECEIPT and mail.is_automatic:
        return message
    message.envelope_sender = reply_to or parseaddr(settings.DEFAULT_FROM_EMAIL)[1]
    message.attach_alternative(render_html(mail.subject, text, footer_link), "text/html")
    return message


def render_html(subject: str, text: str, footer_link: str = "") -> str:
    """Return the HTML half of a letter; everything in it is escaped, nothing is fetched."""
    footer = link_words(FOOTER_LEAD + footer_link) if footer_link else ""
    context = {"subject": subject, "blocks": split_blocks(text), "footer": footer}
    return render_to_string("outbox/email/letter.html", context)


def split_blocks(text: str) -> list[Block]:
    """Return the paragraphs and lists of a plain text as HTML."""
    blocks = []
    for paragraph in re.split(r"\n[ \t]*\n", text.strip()):
        lines = [line.rstrip() for line in paragraph.split("\n") if line.strip()]
        count = next(
            (n for n, line in enumerate(reversed(lines)) if not line.startswith(_ITEM)), len(lines)
        )
        lead, items = lines[: len(lines) - count], lines[len(lines) - count :]
        if lead or items:
            blocks.append(
                Block(_paragraph(lead), tuple(link_words(i.removeprefix(_ITEM)) for i in items))
            )
    return blocks


def link_words(text: str) -> SafeString:
    """Return text as HTML in which web addresses can be followed."""
    pieces = []
    place = 0
    for found in _LINK.finditer(text):
        pieces.append(conditional_escape(text[place : found.start()]))
        pieces.append(format_html('<a href="{0}">{0}</a>', found[0]))
        place = found.end()
    pieces.append(conditional_escape(text[place:]))
    return format_html_join("", "{}", ((piece,) for piece in pieces))


def notices_link(address: str) -> str:
    """Return the page on which notices to an address are stopped; it does not show the address."""
    path = reverse("outbox:notices", args=[make_token(address)])
    return settings.DESK_ADDRESS.rstrip("/") + path


def _paragraph(lines: list[str]) -> SafeString:
    """Return lines as HTML, with a short opening set off."""
    if not lines:
        return SafeString("")
    opening = _LEAD.match(lines[0])
    first = lines[0][opening.end() :] if opening else lines[0]
    words = format_html_join(
        SafeString("<br>\n"), "{}", ((link_words(line),) for line in (first, *lines[1:]))
    )
    return format_html("<strong>{}</strong>{}", opening[0], words) if opening else words


def _headers(mail: OutgoingMail, thread: list[str], footer_link: str) -> dict[str, str]:
    """Return the headers that tie a letter to its thread and keep machines from answering it."""
    headers = {"Message-ID": mail.message_id}
    if thread:
        headers |= {"In-Reply-To": thread[-1], "References": " ".join(thread)}
    if mail.is_automatic:  # RFC 3834 section 5: no responder shall answer it
        headers["Auto-Submitted"] = (
            "auto-replied" if mail.kind == MailKind.RECEIPT else "auto-generated"
        )
    if footer_link:  # RFC 2369, and RFC 8058, whose one press needs https
        headers["List-Unsubscribe"] = f"<{footer_link}>"
        if footer_link.startswith("https://"):
            headers["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    return headers
