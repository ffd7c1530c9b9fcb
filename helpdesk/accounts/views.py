"""Log in, log out, own settings."""

import unicodedata
from typing import Any, cast
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView, LogoutView
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from helpdesk.accounts.forms import KeysForm, LoginForm
from helpdesk.accounts.models import User
from helpdesk.core import limits
from helpdesk.core.http import retry_after


class DeskLoginView(LoginView):
    """Log in with name and password."""

    template_name = "accounts/login.html"
    authentication_form = LoginForm
    redirect_authenticated_user = True

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Check no password while too many wrong ones came for this name or from this address."""
        wait_s = max(limits.seconds_until_room(limit, who) for limit, who in self._counted())
        if not wait_s:
            return super().post(request, *args, **kwargs)
        form = LoginForm(initial={"username": request.POST.get("username", "")})
        context = self.get_context_data(form=form, too_often=True)
        return retry_after(render(request, self.template_name, context, status=429), wait_s)

    def form_invalid(self, form: AuthenticationForm) -> HttpResponse:
        """Count a refused attempt."""
        for limit, who in self._counted():
            limits.spend(limit, who)
        return super().form_invalid(form)

    def _counted(self) -> tuple[tuple[limits.Limit, str], ...]:
        """Return what a refused attempt counts against."""
        name = unicodedata.normalize("NFKC", self.request.POST.get("username", "")).casefold()
        return (
            (limits.LOGINS, name.strip()),
            (limits.LOGINS_ADDRESS, limits.address_of(self.request)),
        )


class DeskLogoutView(LogoutView):
    """Log out; by POST only."""


@login_not_required
def admin_login(request: HttpRequest) -> HttpResponse:
    """Send people who open the admin pages to the desk's one log-in, which counts its attempts."""
    if request.user.is_authenticated:
        raise PermissionDenied
    query = {"next": request.GET.get("next") or reverse("admin:index")}
    return redirect(f"{reverse('accounts:login')}?{urlencode(query)}")


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
