"""Signatures of messages between programs, after the Standard Webhooks specification 1.0.0.

A message carries `webhook-id`, `webhook-timestamp` and `webhook-signature`. Signed is
``id.timestamp.body`` with HMAC-SHA256, the body as its very bytes. The header may list several
signatures, and a side may know several secrets, so that a secret can be changed without a gap.
"""

import base64
import binascii
import hmac
import re
import secrets
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from helpdesk.core.errors import DeskError, RefusedInputError

PREFIX = "whsec_"
FEWEST_BYTES, MOST_BYTES = 24, 64  # of a secret, by the specification
NEW_SECRET_BYTES = 32
TOLERANCE_S = 300  # either way; the value of the specification's own libraries
VERSION = "v1"
MOST_SIGNATURES = 16  # in one header; two are usual while a secret is changed
_ID = re.compile(r"[\x21-\x7e]{1,200}")
_TIMESTAMP = re.compile(r"[0-9]{1,12}")
_DIGEST_CHARS = 44  # of 32 bytes in base64
_NO_DIGEST = b"." * _DIGEST_CHARS  # equals no signature: a full stop is not of base64


class SignatureError(DeskError):
    """A message is not signed by who it says it is from, or not lately."""


class BadSecretError(RefusedInputError):
    """A text is not a secret of this kind."""


@dataclass(frozen=True)
class Signed:
    """What the headers of a message said, once its signature held."""

    message_id: str
    timestamp: int  # seconds since 1970


def make_secret() -> str:
    """Return a new secret as it is handed over."""
    return PREFIX + base64.b64encode(secrets.token_bytes(NEW_SECRET_BYTES)).decode()


def read_secret(text: str) -> bytes:
    """Return a secret's bytes; raises BadSecretError."""
    try:
        key = base64.b64decode(text.strip().removeprefix(PREFIX), validate=True)
    except (binascii.Error, ValueError):
        raise BadSecretError("A secret is whsec_ and base64 after it.") from None
    if not FEWEST_BYTES <= len(key) <= MOST_BYTES:
        raise BadSecretError(
            f"A secret has {FEWEST_BYTES} to {MOST_BYTES} bytes; this one has {len(key)}."
        )
    return key


def sign(key: bytes, *, message_id: str, timestamp: int, body: bytes) -> str:
    """Return one signature as it stands in the header."""
    signed = f"{message_id}.{timestamp}.".encode("ascii") + body
    digest = hmac.digest(key, signed, "sha256")
    return f"{VERSION},{base64.b64encode(digest).decode()}"


def make_headers(
    keys: Iterable[bytes], *, message_id: str, timestamp: int, body: bytes
) -> dict[str, str]:
    """Return the three headers of a message, signed with every key."""
    signatures = (sign(key, message_id=message_id, timestamp=timestamp, body=body) for key in keys)
    return {
        "webhook-id": message_id,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": " ".join(signatures),
    }


def verify(
    keys: Iterable[bytes], headers: Mapping[str, str], body: bytes, *, now_s: float
) -> Signed:
    """Return what a message's headers say; raises SignatureError unless one signature holds.

    Every signature is compared with every key's, each comparison in constant time, so how long a
    refusal takes tells nothing of how near a guess came.
    """
    message_id = headers.get("webhook-id", "")
    stamp = headers.get("webhook-timestamp", "")
    listed = headers.get("webhook-signature", "")
    if not _ID.fullmatch(message_id) or not _TIMESTAMP.fullmatch(stamp) or not listed:
        raise SignatureError("The headers webhook-id, -timestamp and -signature are needed.")
    if abs(now_s - int(stamp)) > TOLERANCE_S:
        raise SignatureError("The timestamp is too far from the desk's clock.")
    candidates = _read_signatures(listed)
    is_signed = False
    for key in keys:
        wanted = sign(key, message_id=message_id, timestamp=int(stamp), body=body).encode()[3:]
        for candidate in candidates:
            is_signed |= hmac.compare_digest(candidate, wanted)
    if not is_signed:
        raise SignatureError("No signature fits the message.")
    return Signed(message_id, int(stamp))


def _read_signatures(listed: str) -> list[bytes]:
    """Return the signatures of a header, of one length; what is none becomes what never fits."""
    found = []
    for item in listed.split(" ", MOST_SIGNATURES)[:MOST_SIGNATURES]:
        version, _, text = item.partition(",")
        digest = text.encode("ascii", "replace")
        is_one = version == VERSION and len(digest) == _DIGEST_CHARS
        found.append(digest if is_one else _NO_DIGEST)
    return found
