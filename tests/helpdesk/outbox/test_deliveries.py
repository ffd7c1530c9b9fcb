"""Every route tells the one timeline what it carried."""

import datetime

import pytest

from helpdesk.core import clock
from helpdesk.outbox import deliveries
from helpdesk.outbox.deliveries import (
    Delivery,
    delivery_source,
    is_carried,
    list_deliveries,
    reaches,
)
from tests.factories import make_case

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _own_registries(monkeypatch):
    monkeypatch.setattr(deliveries, "_sources", {})
    monkeypatch.setattr(deliveries, "_reaches", {})


def test_deliveries_of_all_routes_stand_in_order():
    """Oldest first, whichever app carried them."""
    now = clock.now()

    @delivery_source("late")
    def late(case):
        yield Delivery(at=now, channel="chat", what="answer", state="sent")

    @delivery_source("early")
    def early(case):
        yield Delivery(
            at=now - datetime.timedelta(hours=1), channel="mail", what="receipt", state="sent"
        )

    assert [found.what for found in list_deliveries(make_case())] == ["receipt", "answer"]


def test_case_is_carried_when_one_route_reaches_it():
    """One program that passes words on is enough."""
    case = make_case()
    assert not is_carried(case)

    reaches("never")(lambda case: False)
    reaches("chat")(lambda found: found == case)

    assert is_carried(case)
