"""The season. Permissions: review cases or produce episodes."""

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET

from helpdesk.accounts.access import needs_any
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES
from helpdesk.season.forms import SeasonForm
from helpdesk.season.selectors import FREQUENT, LONG_WEEKS, Season, get_season
from helpdesk.season.subjects import get_subject
from helpdesk.season.tables import write_season

desk_only = needs_any(REVIEW_CASES, PRODUCE_EPISODES)


@require_GET
@desk_only
def season(request: HttpRequest) -> HttpResponse:
    """Show what was shown when, what was not for long, and what was asked."""
    form = SeasonForm(request.GET)
    context = {"tab": "episodes", "form": form, "frequent": FREQUENT, "long_weeks": LONG_WEEKS}
    if not form.is_valid():
        return render(request, "season/season.html", context, status=422)
    found = _get(form)
    shown = SeasonForm(initial=form.cleaned_data)
    more = {"season": found, "form": shown, "query": request.GET.urlencode()}
    return render(request, "season/season.html", context | more)


@require_GET
@desk_only
def season_table(request: HttpRequest) -> HttpResponseBase:
    """Hand out what was shown in a period as a table."""
    form = SeasonForm(request.GET)
    if not form.is_valid():
        return season(request)
    found = _get(form)
    response = HttpResponse(write_season(found), content_type="text/csv; charset=utf-8")
    name = f"season-{found.since:%Y-%m-%d}-to-{found.until:%Y-%m-%d}.csv"
    response["Content-Disposition"] = str(content_disposition_header(True, name))
    response["X-Content-Type-Options"] = "nosniff"
    return response


def _get(form: SeasonForm) -> Season:
    """Return the season the form asks for."""
    wanted = form.cleaned_data
    return get_season(
        since=wanted["since"], until=wanted["until"], subject=get_subject(wanted["by"])
    )
