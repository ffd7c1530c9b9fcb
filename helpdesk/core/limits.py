"""How often one visitor may do what costs the desk work: a bucket that fills again by itself.

A bucket is a row, so that every process counts in the same one. It names its visitor by a keyed
hash only and is deleted once it is full again.
"""

import datetime
import ipaddress
import math
from dataclasses import dataclass

from django.conf import settings
from django.db import transaction
from django.http import HttpRequest
from django.utils.crypto import salted_hmac

from helpdesk.core import clock
from helpdesk.core.models import Bucket

QUARTER_S, HOUR_S = 900, 3600
IPV6_SITE_BITS = 64  # one line has a whole network of this size


@dataclass(frozen=True)
class Limit:
    """So many times in a window; the number is a setting, and 0 means no limit."""

    name: str
    window_s: int

    @property
    def most(self) -> int:
        """Return how many times are free at once."""
        return int(settings.LIMITS[self.name])


REPORTS = Limit("reports", HOUR_S)
PREVIEWS = Limit("previews", HOUR_S)
UPLOADS = Limit("uploads", HOUR_S)
REPLIES = Limit("replies", HOUR_S)
NEW_LINKS = Limit("new_links", HOUR_S)
UNKNOWN_LINKS = Limit("unknown_links", HOUR_S)
COPIES = Limit("copies", HOUR_S)
LOGINS = Limit("logins", QUARTER_S)
LOGINS_ADDRESS = Limit("logins_address", QUARTER_S)
API_CALLS = Limit("api_calls", HOUR_S)
API_REFUSALS = Limit("api_refusals", HOUR_S)
LONGEST = datetime.timedelta(seconds=HOUR_S)


def spend(limit: Limit, who: str, *, count: int = 1) -> bool:
    """Take one or more from a bucket; False when it has too few, and then nothing is taken."""
    return _take(limit, who, float(count))


def seconds_until_room(limit: Limit, who: str) -> int:
    """Return when a bucket has one to give again, in whole seconds; 0 when it has now."""
    if not limit.most or not who:
        return 0
    bucket = Bucket.objects.filter(key=_key(limit, who)).first()
    left = _left_in(bucket, limit) if bucket else limit.most
    return max(0, math.ceil((1 - left) * limit.window_s / limit.most))


def address_of(request: HttpRequest) -> str:
    """Return the visitor's address, "" when it is not known.

    What a visitor says of their own address is believed only from the proxies that are named in
    the settings; the last address those did not add themselves is the visitor's.
    """
    address = request.META.get("REMOTE_ADDR", "")
    if address in settings.TRUSTED_PROXIES:
        said = request.META.get("HTTP_X_FORWARDED_FOR", "").split(",")
        others = [
            a.strip() for a in said if a.strip() and a.strip() not in settings.TRUSTED_PROXIES
        ]
        address = others[-1] if others else ""
    try:
        parsed = ipaddress.ip_address(address)
    except ValueError:
        return ""
    if parsed.version == 6:
        return str(ipaddress.ip_network((parsed, IPV6_SITE_BITS), strict=False))
    return str(parsed)


def remove_full_buckets() -> int:
    """Delete buckets nobody has taken from for so long that they are full; return how many."""
    return Bucket.objects.filter(at__lt=clock.now() - LONGEST).delete()[0]


@transaction.atomic
def _take(limit: Limit, who: str, amount: float) -> bool:
    if not limit.most or not who:
        return True
    now = clock.now()
    key = _key(limit, who)
    Bucket.objects.get_or_create(key=key, defaults={"left": float(limit.most), "at": now})
    bucket = Bucket.objects.select_for_update().get(key=key)
    left = _left_in(bucket, limit)
    if left < amount:
        return False
    Bucket.objects.filter(pk=bucket.pk).update(left=left - amount, at=now)
    return True


def _left_in(bucket: Bucket, limit: Limit) -> float:
    """Return what a bucket holds now, with what has come in since it was written."""
    since_s = max(0.0, (clock.now() - bucket.at).total_seconds())
    return min(float(limit.most), bucket.left + since_s * limit.most / limit.window_s)


def _key(limit: Limit, who: str) -> str:
    return salted_hmac(f"helpdesk.core.limits.{limit.name}", who, algorithm="sha256").hexdigest()
