"""The producer's own kinds of part."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from helpdesk.episodes.errors import KindInUseError
from helpdesk.episodes.forms import PartKindForm
from helpdesk.episodes.models import PartKind, SegmentKind
from helpdesk.episodes.part_kinds import keep_kind, remove_kind
from helpdesk.episodes.selectors import list_part_kinds
from helpdesk.episodes.views.access import may_produce


@require_http_methods(["GET", "POST"])
@may_produce
def kinds(request: HttpRequest) -> HttpResponse:
    """List the kinds of part and make a new one."""
    return _show_or_keep(request, PartKind())


@require_http_methods(["GET", "POST"])
@may_produce
def edit_kind(request: HttpRequest, kind: int) -> HttpResponse:
    """Change a kind of part."""
    return _show_or_keep(request, get_object_or_404(PartKind, pk=kind))


@require_POST
@may_produce
def drop_kind(request: HttpRequest, kind: int) -> HttpResponse:
    """Remove a kind no part is of."""
    found = get_object_or_404(PartKind, pk=kind)
    try:
        remove_kind(found)
        messages.success(request, f"“{found.name}” is removed.")
    except KindInUseError as error:
        messages.error(request, str(error))
    return redirect("episodes:kinds")


def _show_or_keep(request: HttpRequest, kind: PartKind) -> HttpResponse:
    """Show the form and the list, or keep what was typed."""
    form = PartKindForm(request.POST or None, instance=kind)
    if request.method == "POST" and form.is_valid():
        kept = keep_kind(kind, form.cleaned_data)
        messages.success(request, f"“{kept.name}” can be added to any sheet.")
        return redirect("episodes:kinds")
    context = {
        "tab": "episodes",
        "form": form,
        "kinds": list_part_kinds(),
        "built_in": [label for value, label in SegmentKind.choices if value != SegmentKind.OWN],
        "heading": f"Change “{PartKind.objects.get(pk=kind.pk).name}”" if kind.pk else "A new kind",
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "episodes/kinds.html", context, status=status)
