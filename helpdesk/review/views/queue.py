"""The queue: what waits, and taking it. Permissions: see it, review or produce; take, review."""

from urllib.parse import urlencode

from django.contrib import messages
from django.core.exceptions import BadRequest
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST
from django.views.decorators.vary import vary_on_headers

from helpdesk.cases.errors import AlreadyTakenError
from helpdesk.cases.models import Case
from helpdesk.cases.services import claim_case, hand_on_case
from helpdesk.core.http import HtmxRequest, announce, wants_fragment
from helpdesk.photos.selectors import list_covers
from helpdesk.review.errors import NothingToTakeError
from helpdesk.review.forms import QueueFilterForm
from helpdesk.review.selectors import list_queue, list_reviewers, queue_row
from helpdesk.review.services import take_next_case
from helpdesk.review.views.common import desk_people, get_case, reviewers_only, user_of


@require_GET
@desk_people
@vary_on_headers("HX-Request")
def queue(request: HtmxRequest) -> HttpResponse:
    """Show what waits for the desk; htmx gets the rows alone."""
    user = user_of(request)
    form = QueueFilterForm(request.GET, people=list_reviewers(), user=user)
    if not form.is_valid():  # neither our selects nor our pager can send this
        raise BadRequest("Queue filter not understood.")
    after = form.cleaned_data["after"]
    page = list_queue(form.wanted, user=user, after=after)
    kept = {k: v for k, v in form.cleaned_data.items() if v and k != "after"}
    context = {
        "form": form,
        "page": page,
        "is_filtered": bool(kept),
        "first_address": "?" + urlencode(kept),
        "next_address": "?" + urlencode({**kept, "after": page.next_after}),
        "is_later": bool(after),
        "tab": "queue",
    }
    if not wants_fragment(request):
        return render(request, "review/queue.html", context)
    response = render(request, "review/_queue_rows.html", {**context, "is_swap": True})
    return announce(response, _say_count(len(page.rows), has_more=bool(page.next_after)))


@require_POST
@reviewers_only
def claim(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Take a case; when a colleague was faster the row says who has it."""
    user = user_of(request)
    try:
        case = claim_case(number, user=user)
    except Case.DoesNotExist as error:
        raise Http404("There is no such case.") from error
    except AlreadyTakenError as error:
        return _taken(request, number, str(error), status=409)
    return _taken(request, number, f"You have case {case.pk} now.")


@require_POST
@reviewers_only
def put_back(request: HtmxRequest, number: int) -> HttpResponseBase:
    """Undo a press of "Take it": anybody may take the case again."""
    case, user = get_case(number), user_of(request)
    if case.assigned_to_id != user.pk:
        return _taken(request, number, f"Case {case.pk} is not with you; nothing was changed.")
    hand_on_case(case, actor=user)
    return _taken(request, number, f"Anybody may take case {case.pk} now.")


@require_POST
@reviewers_only
def take_next(request: HtmxRequest) -> HttpResponseBase:
    """Take the first case nobody has and open it."""
    try:
        case = take_next_case(user_of(request))
    except NothingToTakeError:
        messages.info(request, "Nothing waits for somebody to take it. Thank you.")
        return redirect("review:queue")
    messages.success(request, "You have this case now.")
    return redirect(case)


def _taken(request: HtmxRequest, number: int, words: str, *, status: int = 200) -> HttpResponseBase:
    """Show the row again, or the case page when there is no row to swap."""
    case = get_case(number)
    if wants_fragment(request):
        row = queue_row(case, list_covers([case.pk]).get(case.pk))
        context = {"row": row, "is_swap": True, "notice": words if status == 409 else ""}
        return announce(render(request, "review/_job.html", context, status=status), words)
    if status == 409:
        return render(request, "review/taken.html", {"case": case, "tab": "queue"}, status=409)
    messages.success(request, words)
    return redirect(case)


def _say_count(count: int, *, has_more: bool) -> str:
    """Return how many cases are shown, as a sentence to be spoken."""
    if not count:
        return "No case fits these filters."
    cases = "One case is shown" if count == 1 else f"{count} cases are shown"
    return f"{cases}, and there are more." if has_more else f"{cases}."
