"""Pages that belong to no app: home, errors, health."""

from http import HTTPStatus

from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import RequestDataTooBig
from django.db import connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe


@login_not_required
@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """Send staff to the queue and everybody else to the report form."""
    return redirect("review:queue" if request.user.is_authenticated else "intake:report")


@login_not_required
@require_safe
def alive(request: HttpRequest) -> HttpResponse:
    """Say that the process answers and reaches its database."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return JsonResponse({"alive": True})


@login_not_required
def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Explain a form that came back without its token and how to lose nothing."""
    return render(request, "403_csrf.html", status=403)


@login_not_required
def not_understood(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Say that a request was not understood, or that a form was too large to be read."""
    is_too_large = isinstance(exception, RequestDataTooBig)
    status = HTTPStatus.REQUEST_ENTITY_TOO_LARGE if is_too_large else HTTPStatus.BAD_REQUEST
    return render(request, "400.html", {"is_too_large": is_too_large}, status=status)
