"""Photos are shown to the desk only, and no browser runs them."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from helpdesk.photos import services
from helpdesk.photos.models import Photo
from tests.factories import make_case, make_user
from tests.helpdesk.pictures import picture_bytes, upload

pytestmark = pytest.mark.django_db


def ready_photo(label: str = "rook.png", **fields: Any) -> Photo:
    """Return a prepared photo of a case."""
    photo = services.receive_photo(
        upload(picture_bytes(format_name="PNG")), label=label, case=make_case(), **fields
    )
    services.prepare_photo(photo.pk)
    photo.refresh_from_db()
    return photo


@pytest.mark.parametrize("size", ["web", "thumb"])
def test_photo_shows_a_rendition_with_safe_headers(as_user, reviewer, size):
    """A rendition is a JPEG that is not sniffed, not run and not kept in caches."""
    response = as_user(reviewer).get(reverse("photos:photo", args=[ready_photo().pk, size]))

    assert response.status_code == 200
    assert response["Content-Type"] == "image/jpeg"
    assert b"".join(response.streaming_content).startswith(b"\xff\xd8\xff")
    assert response["X-Content-Type-Options"] == "nosniff"
    assert response["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert "no-store" in response["Cache-Control"]
    assert "noindex" in response["X-Robots-Tag"]


def test_photo_gives_an_original_as_a_download(as_user, reviewer):
    """The kept file leaves as an attachment whose name is encoded."""
    photo = ready_photo(label='räuke "1".png', keeps_original=True)

    response = as_user(reviewer).get(reverse("photos:photo", args=[photo.pk, "original"]))

    assert response["Content-Type"] == "image/png"
    assert response["Content-Disposition"] == (
        "attachment; filename*=utf-8''r%C3%A4uke%20%221%22.png"
    )
    assert "sandbox" in response["Content-Security-Policy"]
    assert b"".join(response.streaming_content) == picture_bytes(format_name="PNG")


@pytest.mark.parametrize("size", ["original", "state", "huge"])
def test_photo_of_no_such_size_is_not_found(as_user, reviewer, size):
    """A file not kept, and a name that is no size, answer 404."""
    response = as_user(reviewer).get(reverse("photos:photo", args=[ready_photo().pk, size]))

    assert response.status_code == 404


def test_photo_of_a_draft_is_not_shown_to_the_desk(as_user, reviewer):
    """What was not sent yet is nobody's but the person's."""
    photo = services.receive_photo(upload(), label="a.jpg", draft_key="draft-key-of-a-form-0001")
    services.prepare_photo(photo.pk)

    response = as_user(reviewer).get(reverse("photos:photo", args=[photo.pk, "web"]))

    assert response.status_code == 404


def test_photo_sends_strangers_to_the_log_in():
    """Without an account there is no photo."""
    response = Client().get(reverse("photos:photo", args=[ready_photo().pk, "web"]))

    assert response.status_code == 302
    assert reverse("accounts:login") in response["Location"]


def test_photo_needs_a_role(as_user, producer):
    """A producer may look; an account without a role may not."""
    nobody = make_user("nobody")
    nobody.groups.clear()
    address = reverse("photos:photo", args=[ready_photo().pk, "web"])

    assert as_user(producer).get(address).status_code == 200
    assert as_user(nobody).get(address).status_code == 403


def test_photo_answers_no_post(as_user, reviewer):
    """A photo is only read."""
    response = as_user(reviewer).post(reverse("photos:photo", args=[ready_photo().pk, "web"]))

    assert response.status_code == 405
