"""Limits: generous at once, fill again evenly, and are counted for the right visitor."""

import datetime

import pytest
from django.test import RequestFactory

from helpdesk.core import clock, limits
from helpdesk.core.limits import REPORTS, UPLOADS, address_of, seconds_until_room, spend
from helpdesk.core.models import Bucket

pytestmark = pytest.mark.django_db
NOW = datetime.datetime(2026, 11, 25, 12, 0, tzinfo=datetime.UTC)


@pytest.fixture(autouse=True)
def four_an_hour(settings):
    """Let four reports and one upload pass in an hour."""
    settings.LIMITS = settings.LIMITS | {"reports": 4, "uploads": 1}


def later(minutes: float) -> datetime.datetime:
    """Return a moment so many minutes on."""
    return NOW + datetime.timedelta(minutes=minutes)


def test_bucket_gives_what_it_holds_and_fills_again_evenly():
    """Four at once, then one for every quarter of an hour, and never more than four."""
    with clock.standing_at(NOW):
        assert [spend(REPORTS, "a") for _ in range(6)] == [True] * 4 + [False] * 2
        assert seconds_until_room(REPORTS, "a") == 900
    with clock.standing_at(later(14.9)):
        assert not spend(REPORTS, "a")
    with clock.standing_at(later(15)):
        assert [spend(REPORTS, "a") for _ in range(2)] == [True, False]
    with clock.standing_at(later(6000)):
        assert [spend(REPORTS, "a") for _ in range(5)] == [True] * 4 + [False]


def test_buckets_are_apart_by_visitor_and_by_what_is_done():
    """One visitor's use is not another's, nor of another thing."""
    assert spend(UPLOADS, "a")

    assert not spend(UPLOADS, "a")
    assert spend(UPLOADS, "b")
    assert spend(REPORTS, "a")


def test_nought_is_no_limit_and_an_unknown_visitor_is_not_counted(settings):
    """A limit of 0 is none, and visitors without an address do not share one bucket."""
    settings.LIMITS = settings.LIMITS | {"uploads": 0}

    assert all(spend(UPLOADS, "a") for _ in range(9))
    assert all(spend(REPORTS, "") for _ in range(9))
    assert seconds_until_room(REPORTS, "") == 0
    assert not Bucket.objects.exists()


def test_bucket_names_nobody_and_goes_when_it_is_full():
    """The row holds no address and is deleted when it says nothing any more."""
    with clock.standing_at(NOW):
        spend(REPORTS, "192.0.2.7")
    assert "192.0.2.7" not in str(Bucket.objects.values_list())

    with clock.standing_at(later(59)):
        assert limits.remove_full_buckets() == 0
    with clock.standing_at(later(61)):
        assert limits.remove_full_buckets() == 1


@pytest.mark.parametrize(
    ("remote", "said", "address"),
    [
        ("192.0.2.7", "198.51.100.1", "192.0.2.7"),
        ("10.0.0.1", "203.0.113.9, 198.51.100.1", "198.51.100.1"),
        ("10.0.0.1", "198.51.100.1, 10.0.0.2", "198.51.100.1"),
        ("10.0.0.1", "", ""),
        ("10.0.0.1", "nonsense", ""),
        ("2001:db8:1:2:3::4", "", "2001:db8:1:2::/64"),
        ("", "198.51.100.1", ""),
    ],
)
def test_address_is_believed_from_named_proxies_only(settings, remote, said, address):
    """A visitor cannot choose the address they are counted under."""
    settings.TRUSTED_PROXIES = frozenset({"10.0.0.1", "10.0.0.2"})
    request = RequestFactory().get("/", REMOTE_ADDR=remote, HTTP_X_FORWARDED_FOR=said)

    assert address_of(request) == address
