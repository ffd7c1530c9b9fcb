"""Letters that no person wrote to the desk: what machines send, told by RFC 3834 and its kin.

Such a letter is kept and never answered. Where no standard names a sign, the line says so.
"""

from dataclasses import dataclass

from django.db import models

from helpdesk.mailroom.fields import Fields, read_mailboxes
from helpdesk.mailroom.limits import MAX_RECEIVED
from helpdesk.mailroom.parts import Split


class Kind(models.TextChoices):
    """What kind of letter was kept instead of becoming a report or reply."""

    AUTOMATIC = "automatic", "written by a machine"
    BOUNCE = "bounce", "says that a letter did not arrive"
    LIST = "list", "sent to a mailing list"
    LOOP = "loop", "our own letter, or one going round"
    COPY = "copy", "another copy of a letter already here"
    MATCH = "match", "may belong to a case"


@dataclass(frozen=True)
class Automatic:
    """The kind of an automatic letter, and the sign it was told by."""

    kind: str
    why: str


# Names before the @ that belong to programs (RFC 3834 section 2; RFC 2142 section 5).
ROBOT_NAMES = frozenset({"mailer-daemon", "postmaster", "listserv", "majordomo"})
# Common practice, no source.
SILENT_NAMES = frozenset({"noreply", "no-reply", "donotreply", "do-not-reply", "no_reply"})
BULK = frozenset({"bulk", "junk"})  # RFC 2076 section 3.9
# Common practice, no source: set by responders that do not know RFC 3834.
RESPONDER_FIELDS = ("x-autoreply", "x-autorespond", "x-autoresponder", "x-auto-response-id")
LIST_FIELDS = ("list-id", "list-post", "list-unsubscribe", "list-help", "list-subscribe")


def tell_automatic(fields: Fields, split: Split) -> Automatic | None:
    """Return why a letter is automatic, or None for one a person wrote."""
    return (
        _tell_report(fields, split)
        or _tell_loop(fields)
        or _tell_list(fields)
        or _tell_responder(fields)
        or _tell_sender(fields)
    )


def _tell_report(fields: Fields, split: Split) -> Automatic | None:
    """Tell delivery reports (RFC 3464) and notices that a letter was read (RFC 8098)."""
    kinds = {part.kind for part in split.parts if part.letter == 0}
    if "message/delivery-status" in kinds or "message/global-delivery-status" in kinds:
        return Automatic(Kind.BOUNCE, "It is a delivery report (RFC 3464).")
    if split.kind == "multipart/report":
        said = fields.parameter("report-type").lower()
        if said == "delivery-status":
            return Automatic(Kind.BOUNCE, "It is a delivery report (RFC 3464).")
        return Automatic(Kind.AUTOMATIC, "It is a report of a mail program (RFC 6522).")
    return None


def _tell_loop(fields: Fields) -> Automatic | None:
    if len(fields.get_all("received")) > MAX_RECEIVED:
        return Automatic(Kind.LOOP, "It has been passed on too often (RFC 5321 section 6.3).")
    return None


def _tell_list(fields: Fields) -> Automatic | None:
    """Tell mail of a mailing list (RFC 2369, 2919)."""
    for name in LIST_FIELDS:
        if fields.get(name):
            return Automatic(Kind.LIST, f"It came over a mailing list ({name.title()}).")
    if _first_word(fields, "precedence") == "list":
        return Automatic(Kind.LIST, "It came over a mailing list (Precedence).")
    return None


def _tell_responder(fields: Fields) -> Automatic | None:
    """Tell what programs send on their own (RFC 3834 section 5)."""
    for value in fields.get_all("auto-submitted"):
        # Comments and parameters may stand beside the keyword (section 5.2).
        keyword = value.partition(";")[0].partition("(")[0].strip().lower()
        if keyword != "no":
            return Automatic(Kind.AUTOMATIC, "A program wrote it (Auto-Submitted).")
    if _first_word(fields, "precedence") in BULK:
        return Automatic(Kind.AUTOMATIC, "It went to many (Precedence).")
    for name in RESPONDER_FIELDS:
        if fields.get(name):
            return Automatic(Kind.AUTOMATIC, f"A responder wrote it ({name.title()}).")
    return None


def _tell_sender(fields: Fields) -> Automatic | None:
    """Tell letters whose sender takes no answer (RFC 3834 section 2)."""
    return_paths = [value.strip() for value in fields.get_all("return-path")]
    senders = [box.address for box in read_mailboxes(fields.get_all("from"))]
    for address in [path.strip("<> ") for path in return_paths] + senders:
        name = address.rpartition("@")[0].lower()
        if name in ROBOT_NAMES:
            return Automatic(Kind.BOUNCE, "It comes from a mail server.")
        if name.startswith("owner-") or name.endswith(("-request", "-owner", "-bounces")):
            return Automatic(Kind.LIST, "It comes from the program of a mailing list.")
        if name in SILENT_NAMES:
            return Automatic(Kind.AUTOMATIC, "Its sender reads no answers.")
    if "<>" in [path.replace(" ", "") for path in return_paths]:
        return Automatic(Kind.AUTOMATIC, "It asks for no answer (empty Return-Path).")
    return None


def _first_word(fields: Fields, name: str) -> str:
    return fields.get(name).partition("(")[0].strip().lower()
