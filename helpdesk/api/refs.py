"""Public references of cases, and private links that can be told again without being kept."""

import base64
import hashlib
import hmac
import secrets

from django.conf import settings
from django.db import transaction

from helpdesk.api.models import CaseRef, ChannelToken
from helpdesk.cases.models import AccessLink, Case
from helpdesk.cases.services import issue_link
from helpdesk.cases.tokens import hash_token
from helpdesk.core import clock
from helpdesk.outbox.services import private_address

REF_BYTES = 16  # 128 bits from the system's generator, 22 characters
SALT = b"helpdesk.api.private-link:"


def new_ref() -> str:
    """Return a new unguessable reference."""
    return secrets.token_urlsafe(REF_BYTES)


@transaction.atomic
def name_case(token: ChannelToken, case: Case) -> CaseRef:
    """Return the reference of a case for a program; a new one comes with a private link."""
    row, is_new = CaseRef.objects.get_or_create(
        token=token, case=case, defaults={"ref": new_ref(), "created_at": clock.now()}
    )
    if is_new:
        issue_link(case, token=_link_token(row.ref, settings.SECRET_KEY))
    return row


def find_link(row: CaseRef) -> str | None:
    """Return the private address made with a reference, None once it opens nothing.

    The link's token follows from the reference and the desk's secret key: it is stored as a hash
    like every other and can be told each time it is asked for. After the key was changed it is
    found by the earlier one for as long as that one is accepted.
    """
    for key in (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS):
        token = _link_token(row.ref, str(key))
        known = AccessLink.objects.filter(
            case=row.case_id,
            token_hash=hash_token(token),
            revoked_at__isnull=True,
            expires_at__gt=clock.now(),
        )
        if known.exists():
            return private_address(token)
    return None


def _link_token(ref: str, key: str) -> str:
    """Return 192 bits that only the desk can make of a reference."""
    mac = hmac.digest(key.encode(), SALT + ref.encode(), hashlib.sha256)
    return base64.urlsafe_b64encode(mac[:24]).decode()
