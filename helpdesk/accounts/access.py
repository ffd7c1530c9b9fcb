"""Who may open a page that several roles share."""

from collections.abc import Callable
from functools import wraps

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponseBase

View = Callable[..., HttpResponseBase]


def needs_any(*permissions: str) -> Callable[[View], View]:
    """Let a logged-in person pass who holds at least one of the permissions."""

    def guard(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponseBase:
            if not any(request.user.has_perm(name) for name in permissions):
                raise PermissionDenied
            return view(request, *args, **kwargs)

        return guarded

    return guard
