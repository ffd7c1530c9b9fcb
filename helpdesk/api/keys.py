"""Each idempotency key has one effect (draft-ietf-httpapi-idempotency-key-header-07).

A row is committed before the work begins, so that a second request meets it; the answer is written
into it in the transaction of the effect. A process that dies in between leaves a row that may be
taken over after a while, and the effects themselves are guarded by keys of their own.
"""

import datetime
import hashlib
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.db import transaction

from helpdesk.api.errors import (
    ERASED,
    KEY_MISSING,
    KEY_REUSED,
    MALFORMED,
    STILL_RUNNING,
    ProblemError,
)
from helpdesk.api.models import ChannelToken, SentKey
from helpdesk.cases.models import Case
from helpdesk.core import clock

KEY_FORM = r'^("([ !#-\[\]-~]|\\["\\])+"|[!#-~][!-~]*)$'
KEY_CHARS = 255
KEPT_FOR = datetime.timedelta(days=7)  # senders of hooks try for over three days
LEASE = datetime.timedelta(minutes=2)
WAIT_S = 5


@dataclass(frozen=True)
class Result:
    """What an operation answers; `case` is whose words may be in it."""

    status: int
    body: dict[str, Any] = field(default_factory=dict)
    case: Case | None = None


def read_key(header: str) -> str:
    """Return the key a header holds: an RFC 8941 string, or the same without quotation marks."""
    if not header:
        raise ProblemError(KEY_MISSING, "The header Idempotency-Key is missing.")
    if len(header) > KEY_CHARS or not re.fullmatch(KEY_FORM, header):
        raise ProblemError(MALFORMED, "The header Idempotency-Key is not a string (RFC 8941).")
    return re.sub(r"\\(.)", r"\1", header[1:-1]) if header.startswith('"') else header


def hash_of(*parts: bytes | str) -> str:
    """Return one hash of several parts, each told apart from the next."""
    total = hashlib.sha256()
    for part in parts:
        raw = part if isinstance(part, bytes) else part.encode()
        total.update(len(raw).to_bytes(8, "big") + raw)
    return total.hexdigest()


def do_once(
    token: ChannelToken, key_hash: str, fingerprint: str, work: Callable[[], Result]
) -> Result:
    """Do the work of a key, or return what it answered before.

    Raises ProblemError when the key stands for another request, when its work still runs, and
    whatever the work raises; then the key is free again.
    """
    row = _claim(token, key_hash, fingerprint)
    if row.status is not None:
        if row.case and row.case.erased_at:
            raise ProblemError(ERASED, "The case was erased.")
        return Result(row.status, row.body, row.case)
    try:
        with transaction.atomic():
            result = work()
            SentKey.objects.filter(pk=row.pk).update(
                status=result.status, body=result.body, case=result.case
            )
    except BaseException:
        SentKey.objects.filter(pk=row.pk, status__isnull=True).delete()
        raise
    return result


def purge_keys() -> int:
    """Delete keys that nobody repeats any more; return how many."""
    return SentKey.objects.filter(started_at__lt=clock.now() - KEPT_FOR).delete()[0]


@transaction.atomic
def _claim(token: ChannelToken, key_hash: str, fingerprint: str) -> SentKey:
    """Return the key's row, ours to work on when it has no status."""
    now = clock.now()
    row, is_new = SentKey.objects.get_or_create(
        token=token,
        key_hash=key_hash,
        defaults={"fingerprint": fingerprint, "started_at": now},
    )
    if is_new:
        return row
    if row.fingerprint != fingerprint:
        raise ProblemError(KEY_REUSED, "This idempotency key was used for another request.")
    if row.status is not None:
        return row
    taken_over = SentKey.objects.filter(
        pk=row.pk, status__isnull=True, started_at=row.started_at, started_at__lt=now - LEASE
    ).update(started_at=now)
    if not taken_over:
        raise ProblemError(
            STILL_RUNNING,
            "The first request with this key has not ended.",
            headers={"Retry-After": str(WAIT_S)},
        )
    return row
