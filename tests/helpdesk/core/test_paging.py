"""Places in addresses: what the desk did not make itself is refused, whatever it holds."""

import base64
import json

import pytest
from django.core.exceptions import BadRequest
from django.db import connection

from helpdesk.cases.models import Case
from helpdesk.core.paging import encode_place, keyset_page
from tests.factories import make_case

pytestmark = pytest.mark.django_db
FIELDS = ("waiting_since", "pk")
FORGED = {
    "no date": encode_place(["soon", "1"]),
    "no number": encode_place(["2026-11-01T00:00:00Z", "NaN"]),
    "a NUL": encode_place(["2026-11-01T00:00:00Z", "\0"]),
    "half a character": encode_place(["\ud800", "1"]),
    "deep brackets": base64.urlsafe_b64encode(b"[" * 20_000).decode(),
    "too few values": encode_place(["1"]),
    "no list": base64.urlsafe_b64encode(json.dumps({}).encode()).decode(),
    "no place at all": "é%",
}


@pytest.mark.parametrize("place", FORGED.values(), ids=FORGED)
def test_forged_place_is_refused(place: str) -> None:
    """No forged place reaches the database or ends in a fault of the server."""
    with pytest.raises(BadRequest, match="Page address not understood"):
        keyset_page(Case.objects.all(), fields=FIELDS, after=place, size=5)


def test_date_out_of_range_is_refused_or_stands_before_every_row() -> None:
    """SQLite cannot hold such a date, PostgreSQL can; neither ends in a fault of the server."""
    case = make_case()
    place = encode_place(["0001-01-01T00:00:00+14:00", "1"])

    try:
        page = keyset_page(Case.objects.all(), fields=FIELDS, after=place, size=5)
    except BadRequest:
        assert connection.vendor == "sqlite"
    else:
        assert page.rows == [case]


def test_number_beyond_the_column_finds_nothing() -> None:
    """A number no row can have is a place after which nothing comes."""
    case = make_case()
    place = encode_place([case.waiting_since.isoformat(), 10**25])

    assert keyset_page(Case.objects.all(), fields=FIELDS, after=place, size=5).rows == []
