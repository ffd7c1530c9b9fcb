"""The door of private pages: whoever has the address may enter, nobody learns more at the door."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.middleware.csrf import CsrfViewMiddleware
from django.shortcuts import render
from django.utils.decorators import decorator_from_middleware
from django.views.decorators.csrf import csrf_exempt

from helpdesk.cases.selectors import find_case_by_token
from helpdesk.core import limits
from helpdesk.core.http import retry_after

View = Callable[..., HttpResponseBase]


class TokenOnlyCsrf(CsrfViewMiddleware):
    """Ask forms of private pages for their token, but not for their origin.

    A page with `Referrer-Policy: no-referrer` posts with `Origin: null` (Fetch standard, "append
    a request Origin header"), which the plain check refuses. The form's token is still demanded,
    and the address itself is a secret no other site knows.
    """

    def _origin_verified(self, request: HttpRequest) -> bool:
        is_null = request.META.get("HTTP_ORIGIN") == "null"
        return is_null or bool(super()._origin_verified(request))  # type: ignore[misc]


_needs_token = decorator_from_middleware(TokenOnlyCsrf)


def private_page(view: View) -> View:
    """Give a view the case its address opens instead of the token; else one same page for all.

    The view is called with `request`, `case`, `token` and the rest of the address.
    """

    def opened(request: HttpRequest, token: str, **rest: Any) -> HttpResponseBase:
        visitor = limits.address_of(request)
        case = find_case_by_token(token)
        if case is None or case.erased_at:
            is_guessing = not limits.spend(limits.UNKNOWN_LINKS, visitor)
            return too_often(request, visitor) if is_guessing else no_such_page(request)
        return view(request, case, token, **rest)

    checked = _needs_token(opened)

    @csrf_exempt
    @login_not_required
    @wraps(view)
    def guarded(request: HttpRequest, token: str, **rest: Any) -> HttpResponseBase:
        response: HttpResponseBase = checked(request, token, **rest)
        response.headers["Referrer-Policy"] = "no-referrer"
        response.headers["Cache-Control"] = "no-store, private"
        response.headers["X-Robots-Tag"] = "noindex, nofollow"
        return response

    return guarded


def no_such_page(request: HttpRequest) -> HttpResponse:
    """Say that an address opens nothing, in the same way whatever the reason."""
    return render(request, "intake/no_such_page.html", status=404)


def too_often(request: HttpRequest, visitor: str) -> HttpResponse:
    """Say that too many addresses that open nothing were tried; an address that opens one works."""
    response = render(request, "429.html", status=429)
    return retry_after(response, limits.seconds_until_room(limits.UNKNOWN_LINKS, visitor))
