"""The search page, the palette's hits and the similar cases of a case."""

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET
from django.views.decorators.vary import vary_on_headers

from helpdesk.accounts.access import needs_any
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES
from helpdesk.cases.models import Case
from helpdesk.core.http import announce, wants_fragment
from helpdesk.photos.selectors import list_covers
from helpdesk.search.forms import SearchForm
from helpdesk.search.selectors import FILTERS, find_cases, find_similar
from helpdesk.search.spoken import find_spoken

QUICK_HITS = 6


@require_GET
@needs_any(REVIEW_CASES, PRODUCE_EPISODES)
@vary_on_headers("HX-Request")
def search(request: HttpRequest) -> HttpResponse:
    """Show what was found; htmx gets the hits alone. Anybody of the desk may search."""
    form = SearchForm(request.GET)
    is_clean = form.is_valid()
    data = form.cleaned_data
    hits = find_cases(
        data.get("words", ""),
        filters={name: data.get(name, "") for name in FILTERS},
        page=data.get("page") or 1,
    )
    # What was said on a show has no printer, material or outcome, and comes once, with the first.
    is_about_shows = hits.page == 1 and not any(data.get(n) for n in FILTERS if n != "fault")
    words = data.get("words", "") if is_about_shows else ""
    spoken = find_spoken(words, fault=data.get("fault", ""))
    covers = list_covers([hit.case.pk for hit in hits.rows])
    context = {
        "form": form,
        "hits": hits,
        "spoken": spoken,
        "rows": [(hit, covers.get(hit.case.pk)) for hit in hits.rows],
        "tab": "search",
        "query_text": _query(data),
    }
    if not wants_fragment(request):
        return render(request, "search/search.html", context, status=200 if is_clean else 422)
    response = render(request, "search/_hits.html", context)
    count = len(hits.rows) + len(spoken.rows)
    return announce(response, f"{count} shown" if count else "Nothing was found")


@require_GET
@needs_any(REVIEW_CASES, PRODUCE_EPISODES)
def quick(request: HttpRequest) -> HttpResponse:
    """Return the best few hits for the find palette."""
    words = request.GET.get("words", "")[:300].strip()
    hits = find_cases(words, size=QUICK_HITS).rows if words else []
    return render(request, "search/_quick.html", {"hits": hits, "words": words})


@require_GET
@needs_any(REVIEW_CASES, PRODUCE_EPISODES)
def similar(request: HttpRequest, number: int) -> HttpResponse:
    """Return answered cases that read like this one."""
    case = get_object_or_404(Case, pk=number)
    return render(request, "search/_similar.html", {"hits": find_similar(case), "case": case})


def _query(data: dict[str, object]) -> str:
    """Return the filters that are set as the address of the next page needs them."""
    return urlencode({k: v for k, v in data.items() if v and k != "page"})
