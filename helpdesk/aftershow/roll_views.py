"""The supporters' roll. Permission: produce episodes; these are people's names."""

from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from helpdesk.accounts.models import User
from helpdesk.accounts.roles import PRODUCE_EPISODES
from helpdesk.aftershow import services
from helpdesk.aftershow.forms import ColumnsForm, ListForm, SupporterForm
from helpdesk.aftershow.models import RollDraft, Supporter
from helpdesk.aftershow.roll import MOST_BYTES, ORDER, look_at_rows, make_roll, roll_rate
from helpdesk.core.errors import DeskError, RefusedInputError
from helpdesk.episodes.models import Episode
from helpdesk.episodes.selectors import find_episode_in_the_making
from helpdesk.photos.uploads import OversizeFile

may_produce = permission_required(PRODUCE_EPISODES, raise_exception=True)
SHOWN_ROWS = 200


@require_GET
@may_produce
def roll(request: HttpRequest) -> HttpResponse:
    """Show who is on the roll, how it reads and how long that takes."""
    next_one = find_episode_in_the_making()
    context = {
        "tab": "episodes",
        "supporters": Supporter.objects.all(),
        "roll": make_roll(roll_rate(next_one)),
        "order": ORDER,
        "next_one": next_one,
        "drafts": RollDraft.objects.all(),
    }
    return render(request, "aftershow/roll.html", context)


@require_http_methods(["GET", "POST"])
@may_produce
def new_supporter(request: HttpRequest) -> HttpResponse:
    """Add a supporter by hand."""
    return _edit(request, None)


@require_http_methods(["GET", "POST"])
@may_produce
def supporter(request: HttpRequest, supporter_id: int) -> HttpResponse:
    """Change what is known of a supporter."""
    return _edit(request, get_object_or_404(Supporter, pk=supporter_id))


@require_POST
@may_produce
def erase(request: HttpRequest, supporter_id: int) -> HttpResponse:
    """Forget a supporter."""
    left = services.erase_supporter(get_object_or_404(Supporter, pk=supporter_id))
    messages.success(request, "Erased, from the roll and from the scripts that held it.")
    if left:
        numbers = ", ".join(map(str, left))
        messages.error(
            request,
            f"Other words of episode {numbers} hold the same name; please look whether they "
            "speak of the person.",
        )
    return redirect("aftershow:roll")


@require_http_methods(["GET", "POST"])
@may_produce
def new_list(request: HttpRequest) -> HttpResponse:
    """Take a file with supporters; nobody is on the roll by it yet."""
    form = ListForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        file = cast("UploadedFile[bytes]", form.cleaned_data["table"])
        try:
            if isinstance(file, OversizeFile) or (file.size or 0) > MOST_BYTES:
                raise RefusedInputError("A list of supporters is no larger than 5 MB.")
            label = file.name or ""
            return redirect(services.keep_list(file, label=label, actor=cast(User, request.user)))
        except RefusedInputError as error:
            form.add_error("table", str(error))
    status = 422 if request.method == "POST" else 200
    context = {"tab": "episodes", "form": form}
    return render(request, "aftershow/new_list.html", context, status=status)


@require_http_methods(["GET", "POST"])
@may_produce
def roll_draft(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Say what the columns are, see what would become of each row, bring it in or forget it."""
    draft = get_object_or_404(RollDraft, pk=draft_id)
    form = ColumnsForm(request.POST or None, draft=draft)
    if request.method == "POST":
        do = request.POST.get("do")
        if do == "forget":
            draft.delete()
            messages.success(request, "The list is forgotten; nobody was added.")
            return redirect("aftershow:roll")
        if form.is_valid():
            try:
                services.set_columns(draft, form.columns)
                if do == "import":
                    counts = services.bring_in(draft)
                    words = ", ".join(f"{count} {what}" for what, count in counts.items())
                    messages.success(request, f"Brought in: {words}.")
                    return redirect("aftershow:roll")
                return redirect(draft)
            except DeskError as error:
                form.add_error(None, str(error))
    looks = look_at_rows(draft.rows, draft.columns) if "name" in draft.columns else []
    counts = {what: sum(look.what == what for look in looks) for what in _WHATS}
    context = {
        "tab": "episodes",
        "draft": draft,
        "form": form,
        "looks": looks[:SHOWN_ROWS],
        "look_count": len(looks),
        "counts": counts,
        "has_news": bool(counts["new"] or counts["changed"]),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "aftershow/roll_draft.html", context, status=status)


@require_POST
@may_produce
def put_roll(request: HttpRequest, number: int) -> HttpResponse:
    """Put the roll into the script of a show's thanks."""
    episode = get_object_or_404(Episode, number=number)
    try:
        segment = services.put_roll_into_script(episode)
        messages.success(request, f"The roll stands in “{segment.slug}”.")
        return redirect(episode)
    except DeskError as error:
        messages.error(request, str(error))
        return redirect("aftershow:roll")


_WHATS = ("new", "changed", "known", "refused")


def _edit(request: HttpRequest, found: Supporter | None) -> HttpResponse:
    """Show and keep the form of a supporter."""
    form = SupporterForm(request.POST or None, instance=found)
    if request.method == "POST" and form.is_valid():
        current = Supporter.objects.get(pk=found.pk) if found else None
        try:
            services.keep_supporter(current, form.cleaned_data)
            return redirect("aftershow:roll")
        except DeskError as error:
            form.add_error("name", str(error))
    status = 422 if request.method == "POST" else 200
    context = {"tab": "episodes", "form": form, "supporter": found}
    return render(request, "aftershow/supporter_form.html", context, status=status)
