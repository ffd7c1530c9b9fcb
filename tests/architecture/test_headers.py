"""Headers that every answer carries, and those that depend on whose page it is."""

from django.test import Client
from django.urls import reverse

from tests.architecture.matrix import MATRIX
from tests.architecture.world import World

POLICY = {
    "default-src 'self'",
    "media-src 'self' blob:",
    "img-src 'self' blob: data:",
    "object-src 'none'",
    "base-uri 'none'",
    "form-action 'self'",
    "frame-ancestors 'none'",
}
FILE_POLICY = {"default-src 'none'", "sandbox"}


def test_headers_protect_every_answer(world: World) -> None:
    """Policy, nosniff, frame, opener and referrer rules stand on every page, photo and refusal."""
    wrong = []
    for name, client in _visits(world):
        response = client.get(_address(name, world))
        is_file = response.streaming
        response.close()
        policy = {p.strip() for p in response["Content-Security-Policy"].split(";")}
        is_right = policy >= FILE_POLICY if is_file else policy == POLICY
        is_right &= response["X-Content-Type-Options"] == "nosniff"
        is_right &= response["X-Frame-Options"] == "DENY"
        is_right &= response["Referrer-Policy"] in {"same-origin", "no-referrer"}
        is_right &= response["Cross-Origin-Opener-Policy"] == "same-origin"
        if not is_right:
            wrong.append(f"{name}: {dict(response.headers)}")

    assert wrong == []


def test_private_answers_are_not_kept(world: World) -> None:
    """Private pages and photos are stored by nobody and found by no search engine."""
    wrong = []
    for name, client in _visits(world):
        if not MATRIX[name].is_private:
            continue
        response = client.get(_address(name, world))
        response.close()
        stored = response.headers.get("Cache-Control", "")
        robots = response.headers.get("X-Robots-Tag", "")
        if "no-store" not in stored or "noindex" not in robots:
            wrong.append(f"{name}: {stored} / {robots}")

    assert wrong == []


def test_refusals_are_private_too(world: World) -> None:
    """Missing pages and refused ones carry the same headers."""
    client = Client()
    client.force_login(world.people["no role"])

    for address, status in (("/no-such-page", 404), ("/queue", 403), ("/report/photos", 405)):
        response = client.get(address)

        assert response.status_code == status
        assert "no-store" in response["Cache-Control"]
        assert "noindex" in response["X-Robots-Tag"]
        assert "Content-Security-Policy" in response


def test_library_may_be_kept_by_caches(world: World) -> None:
    """Published answers may be cached for a short while and found by search engines."""
    for name in ("answers:library", "answers:published", "answers:photo"):
        response = Client().get(_address(name, world))
        response.close()

        assert "public" in response["Cache-Control"], name
        assert "max-age" in response["Cache-Control"], name
        assert "no-store" not in response["Cache-Control"], name
        assert "noindex" not in response.headers.get("X-Robots-Tag", ""), name
        assert "Set-Cookie" not in response.headers, name
        assert not response.cookies, name


def test_library_is_not_kept_for_people_of_the_desk(world: World) -> None:
    """A page with a colleague's name in its head does not enter a shared cache."""
    client = Client()
    client.force_login(world.people["reviewer"])

    for name in ("answers:library", "answers:published"):
        response = client.get(_address(name, world))

        assert "public" not in response["Cache-Control"], name


def test_private_links_send_no_referrer(world: World) -> None:
    """A private address does not travel to the next page."""
    for name in MATRIX:
        if name.startswith("intake:") and "token" in MATRIX[name].at(world) and MATRIX[name].get:
            response = Client().get(_address(name, world))
            response.close()

            assert response["Referrer-Policy"] == "no-referrer", name


def test_pages_of_the_desk_keep_no_history_in_the_browser(world: World) -> None:
    """Swapped pages leave no snapshot in the browser, and swapped-in scripts never run."""
    client = Client()
    client.force_login(world.people["admin"])

    page = client.get("/queue").content.decode()

    assert 'hx-history="false"' in page
    for setting in ('"historyCacheSize":0', '"allowEval":false', '"allowScriptTags":false'):
        assert setting in page


def _address(name: str, world: World) -> str:
    return reverse(name, kwargs=dict(MATRIX[name].at(world)))


def _visits(world: World) -> list[tuple[str, Client]]:
    """Return every page that can be got, with an admin's client or a visitor's."""
    admin, visitor = Client(), Client()
    admin.force_login(world.people["admin"])
    names = [name for name, row in MATRIX.items() if row.get]
    return [(name, visitor if "anonymous" in MATRIX[name].who else admin) for name in names]


def test_pages_are_compressed_and_photos_are_not(world: World) -> None:
    """A browser that can unpack gets pages packed; photos go out as they are."""
    client = Client(headers={"Accept-Encoding": "gzip"})
    client.force_login(world.people["admin"])

    page, photo = client.get(reverse("review:queue")), client.get(_address("photos:photo", world))
    packings = page.headers.get("Content-Encoding"), photo.headers.get("Content-Encoding")
    photo.close()

    assert packings == ("gzip", None)
