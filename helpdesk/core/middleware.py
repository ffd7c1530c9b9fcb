"""Headers that keep private pages private."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware


class PrivatePagesMiddleware:
    """Keep every page out of caches and search engines unless its view says it is public."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        """Keep the next step of the chain."""
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Add `no-store` and `noindex` where nothing else was decided."""
        response = self.get_response(request)
        if not getattr(response, "is_public", False):
            response.headers.setdefault("Cache-Control", "no-store, private")
            response.headers.setdefault("X-Robots-Tag", "noindex, nofollow")
        return response


class CompressedPagesMiddleware(GZipMiddleware):
    """Compress pages on their way out, but not photos, which are compressed already.

    Django pads each answer by a random length, so that its size tells nothing of the token in it.
    """

    def process_response(
        self, request: HttpRequest, response: HttpResponseBase
    ) -> HttpResponseBase:
        """Leave streamed files as they are."""
        return response if response.streaming else super().process_response(request, response)
