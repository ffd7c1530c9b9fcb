"""Pages about the API: its tokens, for who runs the desk, and its guide, for anybody.

Permissions: run the desk for everything about tokens.
"""

from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required, permission_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import (
    require_GET,
    require_http_methods,
    require_POST,
    require_safe,
)

from helpdesk.accounts.models import User
from helpdesk.accounts.roles import RUN_DESK
from helpdesk.api.errors import KINDS
from helpdesk.api.forms import TokenForm
from helpdesk.api.models import ChannelToken, Scope
from helpdesk.api.openapi import describe
from helpdesk.api.operations import OPERATIONS
from helpdesk.api.selectors import list_tokens
from helpdesk.api.services import make_channel_token, revoke_token
from helpdesk.core.http import public_page

TAB = "outbox"
runners_only = permission_required(RUN_DESK, raise_exception=True)


@require_http_methods(["GET", "POST"])
@runners_only
def tokens(request: HttpRequest) -> HttpResponse:
    """List the tokens; a POST makes one and shows its secret, this once."""
    form = TokenForm(request.POST or None)
    secret, made, status = "", None, 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            made, secret = make_channel_token(**form.values(), actor=cast(User, request.user))
            form, status = TokenForm(), 200
    context = {
        "form": form,
        "rows": list_tokens(),
        "made": made,
        "secret": secret,
        "tab": TAB,
    }
    return render(request, "api/tokens.html", context, status=status)


@require_GET
@runners_only
def token(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one token: what it may do, and what came by it."""
    row = get_object_or_404(list_tokens(), pk=pk)
    latest = row.case_refs.select_related("case").order_by("-pk")[:20]
    return render(request, "api/token.html", {"row": row, "latest": latest, "tab": TAB})


@require_POST
@runners_only
def revoke(request: HttpRequest, pk: int) -> HttpResponseBase:
    """End a token for good."""
    row = get_object_or_404(ChannelToken, pk=pk)
    revoke_token(row)
    messages.success(request, f"The token {row.name} opens nothing any more.")
    return redirect("api:tokens")


@login_not_required
@require_safe
@public_page
def guide(request: HttpRequest) -> HttpResponse:
    """Tell programmers what there is, in one page."""
    context = {"operations": OPERATIONS, "scopes": Scope.choices, "kinds": KINDS}
    return render(request, "api/guide.html", context)


@login_not_required
@require_safe
@public_page
def problem(request: HttpRequest, name: str) -> HttpResponse:
    """Explain one kind of problem: the address that stands in its answers."""
    kind = next((kind for kind in KINDS if kind.name == name), None)
    if kind is None:
        raise Http404("No such kind of problem.")
    return render(request, "api/problem.html", {"kind": kind})


@login_not_required
@require_safe
@public_page
def description(request: HttpRequest) -> HttpResponse:
    """Return the API's description (OpenAPI 3.1)."""
    return JsonResponse(describe(), json_dumps_params={"indent": 1})
