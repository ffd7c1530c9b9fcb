"""Every address, every identity: who gets in, who is sent away, and that forgeries open nothing."""

from collections.abc import Iterator, Mapping
from typing import Any

from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tests.architecture.matrix import IDENTITIES, MATRIX, Row
from tests.architecture.world import World

LOGIN = reverse("accounts:login")
ADMIN_NAMESPACE = "admin"


def list_names(resolver: URLResolver, prefix: str = "") -> Iterator[str]:
    """Yield the full name of every address but Django's admin."""
    for entry in resolver.url_patterns:
        if isinstance(entry, URLPattern):
            assert entry.name, f"{entry.pattern} has no name"
            yield prefix + entry.name
        elif entry.namespace != ADMIN_NAMESPACE:
            yield from list_names(entry, f"{entry.namespace}:" if entry.namespace else prefix)


def list_methods(row: Row) -> tuple[tuple[str, bool], ...]:
    """Return the two methods and whether the row takes them."""
    return ("GET", row.get), ("POST", row.post is not None)


def ask(
    world: World,
    name: str,
    identity: str,
    method: str,
    *,
    at: Mapping[str, Any] | None = None,
    data: Mapping[str, Any] | None = None,
    checks_csrf: bool = False,
) -> tuple[int, str]:
    """Return status and redirect target of a request whose effects are undone."""
    row = MATRIX[name]
    address = reverse(name, kwargs=dict(row.at(world) if at is None else at))
    if data is None:
        data = row.post(world) if row.post else {}
    client = Client(enforce_csrf_checks=checks_csrf, raise_request_exception=False)
    with transaction.atomic():
        if identity != "anonymous":
            client.force_login(world.people[identity])
        response = client.get(address) if method == "GET" else client.post(address, dict(data))
        if response.streaming:
            response.close()
        transaction.set_rollback(True)
    return response.status_code, response.headers.get("Location", "")


def test_every_address_has_a_row_and_every_row_an_address() -> None:
    """A page without a line in the matrix cannot be added."""
    names = list(list_names(get_resolver()))

    assert sorted(names) == sorted(set(names))
    assert set(names) == set(MATRIX)


def test_address_lets_in_exactly_who_may(world: World) -> None:
    """Each identity gets the page, is sent to log in, or is refused; nobody meets an error."""
    wrong = []
    for name, row in MATRIX.items():
        for identity in IDENTITIES:
            for method, is_used in list_methods(row):
                status, target = ask(world, name, identity, method)
                if not _is_right(row, identity, method, is_used, status, target):
                    wrong.append(f"{name} {identity} {method}: {status} {target}")

    assert wrong == []


def _is_right(
    row: Row, identity: str, method: str, is_used: bool, status: int, target: str
) -> bool:
    """Return True when an answer is what the matrix says."""
    to_login = status == 302 and target.startswith(f"{LOGIN}?")
    if identity not in row.who:
        return to_login if identity == "anonymous" else status in {403, 405}
    if not is_used:
        return status == 405
    code = row.code if method == "POST" else row.get_code
    expected = {code} if code else {200, 302, 409, 422}
    return status in expected and not to_login


def test_address_of_something_else_opens_nothing(world: World) -> None:
    """An id of another case, episode or token answers 404 to those who may use the address."""
    wrong = []
    for name, row in MATRIX.items():
        for forged in row.forged_at:
            for method, is_used in list_methods(row):
                for identity in sorted(row.who) if is_used else ():
                    status, _ = ask(world, name, identity, method, at=forged(world))
                    if status != 404:
                        wrong.append(f"{name} {identity} {method} {forged(world)}: {status}")

    assert wrong == []


def test_form_that_names_something_else_changes_nothing(world: World) -> None:
    """A posted id that belongs to another case answers 404."""
    wrong = []
    for name, row in MATRIX.items():
        for forged in row.forged_post:
            status, _ = ask(world, name, "admin", "POST", data=forged(world))
            if status != 404:
                wrong.append(f"{name} {forged(world)}: {status}")

    assert wrong == []


def test_form_without_its_token_is_refused(world: World) -> None:
    """No address takes a POST that does not carry the page's token."""
    wrong = []
    for name, row in MATRIX.items():
        if row.post is not None and row.has_token:
            status, _ = ask(world, name, "admin", "POST", checks_csrf=True)
            if status != 403:
                wrong.append(f"{name}: {status}")

    assert wrong == []


def test_admin_site_lets_in_nobody_but_staff_accounts(world: World) -> None:
    """Django's own admin asks everybody of the desk to log in unless the account is marked."""
    address = reverse("admin:index")
    for identity in IDENTITIES:
        client = Client()
        if identity != "anonymous":
            client.force_login(world.people[identity])

        assert client.get(address).status_code == 302, identity
    world.people["admin"].is_staff = True
    world.people["admin"].save()

    client.force_login(world.people["admin"])

    assert client.get(address).status_code == 200
