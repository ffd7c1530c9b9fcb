"""Reply addresses: each case has its own, signed so that nobody can guess another's.

The tag after the plus sign is a convention of mail hosts (common practice, no source). Its
characters are those of RFC 5322 section 3.2.3 and survive hosts that change the case of letters.
"""

import base64
import re
from email.utils import parseaddr

from django.conf import settings
from django.utils.crypto import constant_time_compare, salted_hmac

SIGNATURE_BYTES = 10  # 80 bits: 16 characters, far beyond guessing by mail
_USE = "helpdesk.outbox.addresses"
_TAG = re.compile(r"c(?P<case>[1-9]\d{0,17})-(?P<signature>[a-z2-7]{16})")


def reply_address(case_id: int) -> str:
    """Return the address that answers about a case are sent to."""
    name, _, domain = _desk_address().partition("@")
    return f"{name}+c{case_id}-{sign_number(case_id, use=_USE)}@{domain}"


def find_case_id(address: str) -> int | None:
    """Return the case a reply address belongs to, or None when the desk never gave it out."""
    name, _, domain = parseaddr(address)[1].lower().rpartition("@")
    own_name, _, own_domain = _desk_address().lower().partition("@")
    base, plus, tag = name.partition("+")
    found = _TAG.fullmatch(tag)
    if (base, plus, domain) != (own_name, "+", own_domain) or found is None:
        return None
    case_id = int(found["case"])
    expected = sign_number(case_id, use=_USE)
    return case_id if constant_time_compare(found["signature"], expected) else None


def is_own_address(address: str) -> bool:
    """Return True for the desk's own address, with or without a tag."""
    name, _, domain = parseaddr(address)[1].lower().rpartition("@")
    own_name, _, own_domain = _desk_address().lower().partition("@")
    return (name.partition("+")[0], domain) == (own_name, own_domain)


def sign_number(number: int, *, use: str) -> str:
    """Return 16 characters that only this desk can put beside a number, for one use."""
    digest = salted_hmac(use, str(number), algorithm="sha256").digest()
    return base64.b32encode(digest[:SIGNATURE_BYTES]).decode().lower()


def _desk_address() -> str:
    return parseaddr(settings.DEFAULT_FROM_EMAIL)[1]
