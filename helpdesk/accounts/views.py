"""Log in, log out, own settings."""

from typing import cast

from django.contrib import messages
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from helpdesk.accounts.forms import KeysForm, LoginForm
from helpdesk.accounts.models import User


class DeskLoginView(LoginView):
    """Log in with name and password."""

    template_name = "accounts/login.html"
    authentication_form = LoginForm
    redirect_authenticated_user = True


class DeskLogoutView(LogoutView):
    """Log out; by POST only."""


@require_http_methods(["GET", "POST"])
def own_settings(request: HttpRequest) -> HttpResponse:
    """Let a person of the desk change how the desk treats them."""
    user = cast(User, request.user)
    form = KeysForm(request.POST or None, instance=user)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Your settings are kept.")
        return redirect("accounts:own_settings")
    return render(request, "accounts/own_settings.html", {"form": form})
