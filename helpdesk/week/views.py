"""The clock of the week. Permissions: review cases or produce episodes."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET

from helpdesk.accounts.access import needs_any
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES
from helpdesk.week.chart import draw_flow
from helpdesk.week.figures import FEW
from helpdesk.week.selectors import get_week
from helpdesk.week.tables import write_week

desk_only = needs_any(REVIEW_CASES, PRODUCE_EPISODES)


@require_GET
@desk_only
def week(request: HttpRequest) -> HttpResponse:
    """Show how long people wait, what became of their prints and how the pile grows."""
    found = get_week()
    context = {"week": found, "chart": draw_flow(found.flow), "few": FEW, "tab": "queue"}
    return render(request, "week/week.html", context)


@require_GET
@desk_only
def week_table(request: HttpRequest) -> HttpResponse:
    """Hand out the figures of the page as a table."""
    found = get_week()
    response = HttpResponse(write_week(found), content_type="text/csv; charset=utf-8")
    name = f"week-{found.at:%Y-%m-%d}.csv"
    response["Content-Disposition"] = str(content_disposition_header(True, name))
    return response
