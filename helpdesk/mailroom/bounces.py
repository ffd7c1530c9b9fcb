"""Delivery reports: which letter did not arrive, where to and why (RFC 3464)."""

from dataclasses import dataclass

from helpdesk.mailroom.fields import Fields, line_of
from helpdesk.mailroom.parts import Part, Split, split_letter
from helpdesk.outbox.threads import find_ids

STATUS_KINDS = frozenset({"message/delivery-status", "message/global-delivery-status"})
MAX_STATUS_BYTES = 262_144
MOST_RECIPIENTS = 20
WORDS_CHARS = 300


@dataclass(frozen=True, kw_only=True)
class FailedDelivery:
    """One recipient a letter did not reach."""

    address: str
    status: str  # a code of RFC 3463, such as 5.1.1
    words: str
    message_id: str  # of the letter sent back, "" when the report does not hold it


def read_failures(split: Split) -> tuple[FailedDelivery, ...]:
    """Return the recipients a report says were not reached; a delay is no failure."""
    message_id = _returned_id(split)
    found = []
    for part in split.parts:
        if part.kind not in STATUS_KINDS or part.letter != 0:
            continue
        for group in _groups(part.decode()[:MAX_STATUS_BYTES]):
            if group.get("action").strip().lower() == "failed":
                found.append(_failure(group, message_id))
    return tuple(found[:MOST_RECIPIENTS])


def _groups(data: bytes) -> list[Fields]:
    """Return the groups of fields of a report: one of the letter, one of each recipient."""
    blocks = data.replace(b"\r\n", b"\n").split(b"\n\n")[: MOST_RECIPIENTS + 5]
    return [split_letter(block.strip(b"\n") + b"\n\n").letters[0] for block in blocks if block]


def _failure(group: Fields, message_id: str) -> FailedDelivery:
    recipient = group.get("original-recipient") or group.get("final-recipient")
    return FailedDelivery(
        address=line_of(recipient.partition(";")[2].strip(" <>"), limit=254),
        status=line_of(group.get("status").split(" ")[0], limit=20),
        words=line_of(group.get("diagnostic-code").partition(";")[2], limit=WORDS_CHARS),
        message_id=message_id,
    )


def _returned_id(split: Split) -> str:
    """Return the Message-ID of the letter a report sends back, whole or its header only."""
    for fields in split.letters[1:]:
        if ids := find_ids(fields.get("message-id")):
            return ids[0]
    for part in split.parts:
        if part.kind in {"text/rfc822-headers", "message/rfc822"}:
            ids = find_ids(_head_of(part).get("message-id"))
            if ids:
                return ids[0]
    return ""


def _head_of(part: Part) -> Fields:
    return split_letter(part.decode()[:MAX_STATUS_BYTES]).letters[0]
