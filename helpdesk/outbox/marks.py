"""What is known of a mail address: that letters do not arrive, or that no notices are wanted.

Only a keyed hash of the address is kept, so that a mark outlives the erasure of a person without
naming them.
"""

from email.utils import parseaddr

from django.utils.crypto import constant_time_compare, salted_hmac

from helpdesk.cases.models import Case
from helpdesk.outbox.addresses import sign_number
from helpdesk.outbox.models import AddressMark, MailKind

# Letters a person may refuse; an answer or a question is never among them.
_USE = "helpdesk.outbox.notices"
NOTICES = frozenset({MailKind.FOLLOW_UP, MailKind.FEATURED})


def hash_address(address: str) -> str:
    """Return the name under which the desk keeps what it knows of an address."""
    plain = parseaddr(address)[1].strip().casefold()
    return salted_hmac("helpdesk.outbox.marks", plain, algorithm="sha256").hexdigest()


def find_mark(address: str) -> AddressMark | None:
    """Return what is known of an address, or None."""
    if not address:
        return None
    return AddressMark.objects.filter(address_hash=hash_address(address)).first()


def is_undeliverable(case: Case) -> bool:
    """Return True when letters to the person of a case are known not to arrive."""
    mark = find_mark(case.email)
    return bool(mark and mark.undeliverable_at)


def takes(address: str, *, kind: str, is_automatic: bool) -> bool:
    """Return True when a letter of a kind may go to an address.

    What a reviewer writes always may; a letter nobody pressed a button for stops at an address
    that is known not to work, and a notice stops where it was unsubscribed from.
    """
    mark = find_mark(address)
    if mark is None:
        return True
    is_lost = is_automatic and mark.undeliverable_at is not None
    is_refused = kind in NOTICES and mark.unsubscribed_at is not None
    return not (is_lost or is_refused)


def make_token(address: str) -> str:
    """Return what names an address in a link that stops notices, hard to forge (RFC 8058)."""
    mark, _ = AddressMark.objects.get_or_create(address_hash=hash_address(address))
    return f"{mark.pk}-{sign_number(mark.pk, use=_USE)}"


def find_by_token(token: str) -> AddressMark | None:
    """Return the mark a link of the desk's letters names, or None for a made-up one."""
    number, _, signature = token.partition("-")
    if not (number.isascii() and number.isdigit() and len(number) < 19):
        return None
    if not constant_time_compare(signature, sign_number(int(number), use=_USE)):
        return None
    return AddressMark.objects.filter(pk=int(number)).first()
