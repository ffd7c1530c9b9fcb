"""The public library: answers people agreed to have shown."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils.cache import patch_vary_headers
from django.utils.text import capfirst
from django.views.decorators.http import require_safe

from helpdesk.answers.forms import LibraryForm
from helpdesk.answers.letters import WHY, split_body
from helpdesk.answers.models import Answer
from helpdesk.answers.selectors import (
    ShownAnswer,
    find_public_answers,
    find_public_photo,
    list_public_answers,
    list_public_materials,
    show_answers,
)
from helpdesk.core.http import public_page
from helpdesk.core.paging import keyset_page
from helpdesk.photos.responses import photo_response

PAGE_SIZE = 12
FRESH_S = 60  # consent may be taken back at any moment: caches must ask again soon
LEAD_LIMIT = 280  # characters of an answer shown in the list


@dataclass(frozen=True)
class Bit:
    """A bit of text and whether it is one of the words looked for."""

    text: str
    is_match: bool


@dataclass(frozen=True)
class LibraryRow:
    """An answer in the list, with the words looked for marked."""

    shown: ShownAnswer
    title: list[Bit]
    lead: list[Bit]


@login_not_required
@require_safe
@public_page
def library(request: HttpRequest) -> HttpResponse:
    """List published answers, newest first, for anybody."""
    form = LibraryForm(request.GET or None, materials=list_public_materials())
    wanted = form.wanted
    page = keyset_page(
        find_public_answers(wanted),
        fields=("-published_at", "-id"),
        after=request.GET.get("after", ""),
        size=PAGE_SIZE,
    )
    words = wanted.words.split()
    rows = [
        LibraryRow(
            shown=shown,
            title=mark_words(shown.answer.published_title, words),
            lead=mark_words(lead_of(shown.answer), words),
        )
        for shown in show_answers(page.rows)
    ]
    context = {
        "form": form,
        "rows": rows,
        "is_filtered": bool(wanted.words or wanted.material or wanted.outcome),
        "next_address": _next_address(request, page.next_after),
        "is_first_page": "after" not in request.GET,
    }
    return _public(request, _render(request, "answers/library.html", context))


@login_not_required
@require_safe
@public_page
def published(request: HttpRequest, answer_id: int) -> HttpResponse:
    """Show one published answer, for anybody, as long as its person agrees."""
    answer = list_public_answers().filter(pk=answer_id).first()
    if answer is None:
        raise Http404("No such answer.")
    context = {"shown": show_answers([answer])[0]}
    return _public(request, _render(request, "answers/published.html", context))


@login_not_required
@require_safe
@public_page
def photo(request: HttpRequest, answer_id: int, photo_id: int, size: str) -> HttpResponseBase:
    """Show a photo of a published answer, as long as its person agrees."""
    found = find_public_photo(answer_id, photo_id)
    if found is None or size not in ("web", "thumb"):
        raise Http404("No such photo.")
    response = photo_response(found, size)
    response["Cache-Control"] = f"public, max-age={FRESH_S}"
    return response


def lead_of(answer: Answer) -> str:
    """Return the first words of an answer: why it happens, or else how it begins."""
    paragraphs = split_body(answer.published_body)
    why = [p.words for p in paragraphs if p.section == WHY]
    text = capfirst(" ".join(why or [p.words for p in paragraphs]))
    if len(text) <= LEAD_LIMIT:
        return text
    return text[:LEAD_LIMIT].rsplit(" ", 1)[0].rstrip(" ,;:.") + " …"


def mark_words(text: str, words: Iterable[str]) -> list[Bit]:
    """Return a text in bits, those that are one of the words marked, whatever their case."""
    wanted = [re.escape(word) for word in words if word]
    if not wanted:
        return [Bit(text, is_match=False)]
    parts = re.split("(" + "|".join(wanted) + ")", text, flags=re.IGNORECASE)
    return [Bit(part, is_match=bool(n % 2)) for n, part in enumerate(parts) if part]


def _next_address(request: HttpRequest, after: str) -> str:
    """Return the address of the next page with the same filters, or ""."""
    if not after:
        return ""
    query = request.GET.copy()
    query["after"] = after
    return f"?{query.urlencode()}"


def _render(request: HttpRequest, name: str, context: Mapping[str, object]) -> HttpResponse:
    """Render for visitors, or inside the desk's own frame for its people."""
    base = "desk_base.html" if request.user.is_authenticated else "public/base.html"
    return render(request, name, {**context, "base": base, "tab": "answers"})


def _public(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """Let caches keep a visitor's page for a moment, and never a page made for one person."""
    is_personal = bool(request.COOKIES) or request.user.is_authenticated
    keep = "no-store, private" if is_personal else f"public, max-age={FRESH_S}"
    response["Cache-Control"] = keep
    patch_vary_headers(response, ["Cookie"])
    return response
