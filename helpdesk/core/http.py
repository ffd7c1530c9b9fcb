"""Small helpers around requests and answers."""

import re
from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar
from urllib.parse import quote

from django.core.files.base import File
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseBase
from django.utils.http import content_disposition_header
from django_htmx.middleware import HtmxDetails

View = Callable[..., HttpResponseBase]
Response = TypeVar("Response", bound=HttpResponseBase)
# Control characters but tab and line ends, and halves of surrogate pairs: no database takes both.
_UNSTORABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")


class HtmxRequest(HttpRequest):
    """A request with what htmx says about itself."""

    htmx: HtmxDetails


def wants_fragment(request: HttpRequest) -> bool:
    """Return True when htmx asks for a part of the page.

    Boosted links and history restores carry htmx headers but need the whole page.
    """
    htmx: HtmxDetails = request.htmx  # type: ignore[attr-defined]
    return bool(htmx) and not htmx.boosted and not htmx.history_restore_request


def announce(response: HttpResponse, words: str) -> HttpResponse:
    """Add a sentence that the page's live region speaks after an htmx swap."""
    # Header values are Latin-1, so other characters travel as percent escapes.
    response["Desk-Said"] = "".join(
        c if c.isascii() and c.isprintable() and c != "%" else quote(c) for c in words
    )
    return response


def retry_after(response: HttpResponse, seconds: int) -> HttpResponse:
    """Say in a header when to come back (RFC 9110 section 10.2.3)."""
    response["Retry-After"] = str(max(1, seconds))
    return response


def download_response(
    file: "File[bytes]", *, label: str, content_type: str = "application/octet-stream"
) -> FileResponse:
    """Stream a file as a download under its label; no browser runs or shows what is in it."""
    response = FileResponse(file, content_type=content_type)
    response["Content-Disposition"] = str(content_disposition_header(True, label))
    return lock_down(response)


def lock_down(response: Response) -> Response:
    """Mark the answer that carries somebody's file: private, and nothing in it may run."""
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Security-Policy"] = "default-src 'none'; sandbox"
    response["Cross-Origin-Resource-Policy"] = "same-origin"
    response["Cache-Control"] = "no-store, private"
    return response


def public_page(view: View) -> View:
    """Mark a view's answers as public: they may be cached and found by search engines."""

    @wraps(view)
    def marked(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        response = view(request, *args, **kwargs)
        response.is_public = True  # type: ignore[attr-defined]
        return response

    return marked


def as_int(value: Any, default: int | None = None) -> int | None:
    """Return a form value as a whole number, or the default when it is none."""
    try:
        return int(value)
    except (TypeError, ValueError):
        return default


def storable(text: str) -> str:
    """Return a text typed outside a form field without what a database cannot hold."""
    return _UNSTORABLE.sub("", text)
