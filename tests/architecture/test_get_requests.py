"""Looking changes nothing, and no link leads nowhere."""

import re
from collections import Counter
from collections.abc import Iterator
from typing import Any

from django.db import connection
from django.test import Client
from django.urls import reverse

from tests.architecture.matrix import MATRIX
from tests.architecture.world import World

# A session is the browser's memory, not the desk's.
NOT_COUNTED = {"django_session"}
LINK = re.compile(r"""\b(?:href|src|hx-get|action)=["']([^"'#]+)""")
METHOD_POST = re.compile(r"<form\b[^>]*method=[\"']post[\"'][^>]*>", re.IGNORECASE)
MOST_VARIANTS = 6  # of one address that differ in their query only: filters, lines of a show
QUERIES = ("", "?words=corners", "?after=x", "?page=2", "?new=1", "?copy=1")


def dump() -> dict[str, list[Any]]:
    """Return every row of every table."""
    rows = {}
    with connection.cursor() as cursor:
        for table in sorted(connection.introspection.table_names(cursor)):
            if table not in NOT_COUNTED:
                cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")  # noqa: S608 - names from the database itself
                rows[table] = sorted(map(repr, cursor.fetchall()))
    return rows


def test_get_changes_no_row(world: World) -> None:
    """Opening every page, as a page, a fragment or without login, leaves the database as it was."""
    admin, visitor = Client(), Client()
    admin.force_login(world.people["admin"])
    before = dump()

    seen = 0
    for name, row in MATRIX.items():
        if not row.get:
            continue
        address = reverse(name, kwargs=dict(row.at(world)))
        for query in QUERIES:
            for client in (admin, visitor):
                for headers in ({}, {"HX-Request": "true"}):
                    response = client.get(address + query, headers=headers)
                    response.close()
                    seen += response.status_code < 500
                client.head(address + query).close()

    assert seen > 400
    assert dump() == before


def test_links_of_the_desk_lead_somewhere(world: World) -> None:
    """Following every link from the queue and the report form meets no missing page."""
    client = Client()
    client.force_login(world.people["admin"])
    start = [
        reverse("review:queue"),
        reverse("intake:track", args=[world.token]),
        reverse("intake:new_link"),
        reverse("outbox:outbox"),
        reverse("accounts:login"),
    ]
    visitor = Client()
    broken, pages = [], set()
    variants: Counter[tuple[int, str]] = Counter()
    waiting = [(who, address) for who in (client, visitor) for address in start]
    known = {(id(who), address) for who, address in waiting}
    while waiting:
        who, address = waiting.pop()
        response = who.get(address, follow=True)
        if response.status_code >= 400:
            broken.append(f"{address}: {response.status_code}")
            continue
        pages.add(address)
        for found in list_links(response, address):
            place = (id(who), found.partition("?")[0])
            if (id(who), found) not in known and variants[place] < MOST_VARIANTS:
                known.add((id(who), found))
                variants[place] += 1
                waiting.append((who, found))

    assert broken == []
    assert reverse("review:case", args=[world.other.pk]) in pages
    assert reverse("episodes:run_sheet", args=[world.episode.number]) in pages


def list_links(response: Any, address: str) -> Iterator[str]:
    """Yield the desk's own addresses a page names, without those only forms send to."""
    if response.streaming or not response.headers.get("Content-Type", "").startswith("text/html"):
        response.close()
        return
    html = METHOD_POST.sub("", response.content.decode())
    for found in LINK.findall(html):
        link = found.replace("&amp;", "&")
        if link.startswith("?"):
            yield address.partition("?")[0] + link
        elif link.startswith("/") and not link.startswith(("/static/", "/admin/")):
            yield link
