"""Pages that belong to no app: home, errors, health."""

from django.contrib.auth.decorators import login_not_required
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
