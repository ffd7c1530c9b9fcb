"""Pages that belong to no app."""

from typing import Any

import pytest
from django.test import Client

pytestmark = pytest.mark.django_db


def test_form_too_large_to_be_read_gets_a_page_that_says_so(settings: Any) -> None:
    """More text than the desk reads is refused with what to do, not with a riddle."""
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 1000

    response = Client().post("/report", {"story": "word " * 1000})

    assert response.status_code == 413
    assert "Shorten the text" in response.content.decode()


def test_request_not_understood_gets_the_plain_page() -> None:
    """A forged address is answered in words."""
    response = Client().get("/answers?after=nonsense")

    assert response.status_code == 400
    assert "could not be understood" in response.content.decode()


@pytest.mark.parametrize("address", ["/", "/alive"])
def test_health_may_be_asked_without_a_body(address: str) -> None:
    """Watching programs ask with HEAD."""
    assert Client().head(address).status_code in (200, 302)
