"""The pages of hooks. Permission: run the desk."""

from typing import Any, cast

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse, HttpResponseBase, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from helpdesk.accounts.models import User
from helpdesk.accounts.roles import RUN_DESK
from helpdesk.core import clock
from helpdesk.core.errors import WrongStateError
from helpdesk.hooks import services
from helpdesk.hooks.announcing import send_test
from helpdesk.hooks.events import KINDS
from helpdesk.hooks.forms import ReplayForm, SourceForm, TargetForm
from helpdesk.hooks.models import HookDelivery, HookSource, HookTarget
from helpdesk.hooks.selectors import list_deliveries, list_messages, list_sources, list_targets

SECRET_KEY = "hook_secret"  # noqa: S105 - where a new one waits to be shown, once
runners_only = permission_required(RUN_DESK, raise_exception=True)
Party = HookSource | HookTarget


@require_GET
@runners_only
def hooks(request: HttpRequest) -> HttpResponse:
    """List who reports by hook and who is told."""
    return _render(request, "hooks", sources=list_sources(), targets=list_targets())


@require_http_methods(["GET", "POST"])
@runners_only
def new_source(request: HttpRequest) -> HttpResponseBase:
    """Add a source; its secret is shown once."""
    form = SourceForm(_posted(request))
    if request.method == "POST" and form.is_valid():
        made = services.make_source(form.cleaned_data, actor=_user(request))
        return _show_secret(request, made)
    return _render(request, "edit", form=form, heading="New source", status=_status(form))


@require_http_methods(["GET", "POST"])
@runners_only
def source(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Show a source with what came from it, or change it."""
    found = get_object_or_404(HookSource, pk=pk)
    form = SourceForm(_posted(request), instance=found)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Kept.")
        return redirect(found)
    if form.errors:
        found.refresh_from_db()  # the form has written what was refused into it
    return _render(
        request,
        "source",
        source=found,
        form=form,
        address=_address(found),
        page=list_messages(found, request.GET.get("after", "")),
        secret=_pop_secret(request, found),
        status=_status(form),
    )


@require_http_methods(["GET", "POST"])
@runners_only
def new_target(request: HttpRequest) -> HttpResponseBase:
    """Add a target; its secret is shown once."""
    form = TargetForm(_posted(request), initial={"kinds": list(KINDS)})
    if request.method == "POST" and form.is_valid():
        made = services.make_target(form.cleaned_data, actor=_user(request))
        return _show_secret(request, made)
    return _render(request, "edit", form=form, heading="New target", status=_status(form))


@require_http_methods(["GET", "POST"])
@runners_only
def target(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Show a target with what went to it, or change it."""
    found = get_object_or_404(HookTarget, pk=pk)
    form = TargetForm(_posted(request), instance=found)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Kept.")
        return redirect(found)
    if form.errors:
        found.refresh_from_db()  # the form has written what was refused into it
    return _show_target(request, found, form=form, status=_status(form))


@require_POST
@runners_only
def new_secret(request: HttpRequest, party: str, pk: int) -> HttpResponseBase:
    """Give a source or target a new secret and show it once."""
    found = _find(party, pk)
    return _show_secret(request, services.rotate_secret(type(found), found.pk))


@require_POST
@runners_only
def switch(request: HttpRequest, party: str, pk: int) -> HttpResponseBase:
    """Switch a source or target off, or on again."""
    found = _find(party, pk)
    act = services.switch_source if isinstance(found, HookSource) else services.switch_target
    act(found.pk, is_active=not found.is_active)
    messages.success(request, "Switched off." if found.is_active else "Switched on.")
    return redirect(found)


@require_POST
@runners_only
def try_target(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Send a message that says nothing but that it is a trial."""
    found = get_object_or_404(HookTarget, pk=pk)
    if found.is_active:
        send_test(found)
        messages.success(request, "A trial message is on its way; it stands below.")
    else:
        messages.error(request, "The target is switched off.")
    return redirect(found)


@require_POST
@runners_only
def send_range(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Send again what was written for a target in a span of time."""
    found = get_object_or_404(HookTarget, pk=pk)
    form = ReplayForm(request.POST)
    if not form.is_valid():
        return _show_target(request, found, replay_form=form, status=422)
    data = form.cleaned_data
    try:
        count = services.replay_range(
            found,
            since=data["since"],
            until=data["until"],
            only_given_up=not data["with_sent"],
        )
    except WrongStateError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, f"{count} on the way again." if count else "There was none.")
    return redirect(found)


@require_GET
@runners_only
def delivery(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one delivery: what was written, what was answered."""
    rows = HookDelivery.objects.select_related("target", "case")
    return _render(request, "delivery", delivery=get_object_or_404(rows, pk=pk))


@require_POST
@runners_only
def send_again(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Send one delivery again, under its id."""
    found = get_object_or_404(HookDelivery, pk=pk)
    try:
        services.replay(found.pk)
    except WrongStateError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, "It is on its way again.")
    return redirect("hooks:delivery", pk=found.pk)


def _show_target(
    request: HttpRequest, found: HookTarget, *, status: int = 200, **extra: Any
) -> HttpResponse:
    """Render the page of a target."""
    context = {
        "form": TargetForm(instance=found),
        "replay_form": ReplayForm(initial=ReplayForm.initial_span(clock.now())),
        **extra,
    }
    page = list_deliveries(found, request.GET.get("after", ""))
    secret = _pop_secret(request, found)
    return _render(
        request, "target", target=found, page=page, secret=secret, status=status, **context
    )


def _render(request: HttpRequest, name: str, *, status: int = 200, **context: Any) -> HttpResponse:
    return render(request, f"hooks/{name}.html", {"tab": "outbox", **context}, status=status)


def _status(form: Any) -> int:
    return 422 if form.errors else 200


def _posted(request: HttpRequest) -> QueryDict | None:
    """Return what was posted; an empty form posted is not a form just opened."""
    return request.POST if request.method == "POST" else None


def _user(request: HttpRequest) -> User:
    return cast(User, request.user)


def _find(party: str, pk: int) -> Party:
    model: type[HookSource] | type[HookTarget] = HookSource if party == "sources" else HookTarget
    return cast(Party, get_object_or_404(model, pk=pk))


def _show_secret(request: HttpRequest, found: Party) -> HttpResponseBase:
    """Send to the page of a source or target, which shows the secret this once."""
    request.session[SECRET_KEY] = [type(found).__name__, found.pk]
    return redirect(found)


def _pop_secret(request: HttpRequest, found: Party) -> str:
    """Return the secret if it was made just now, and not again after that."""
    if request.session.get(SECRET_KEY) != [type(found).__name__, found.pk]:
        return ""
    del request.session[SECRET_KEY]
    return found.secret


def _address(found: HookSource) -> str:
    """Return where a source posts."""
    return settings.DESK_ADDRESS.rstrip("/") + reverse("hooks:receive", args=[found.public_id])
