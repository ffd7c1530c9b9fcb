"""A person's words with what was read in them marked."""

from collections.abc import Sequence

from django.utils.html import escape, format_html
from django.utils.safestring import SafeString, mark_safe

from helpdesk.diagnosis.values import SpanView

MARK = (
    '<mark data-read="{}" title="{}">{}<sup><span class="unseen">, reading </span>{}</sup></mark>'
)


def render_story(story: str, spans: Sequence[SpanView]) -> SafeString:
    """Return a story as HTML with its spans numbered; every piece of it is escaped.

    Spans that do not fit the story, because it was erased or changed, are left out.
    """
    pieces = []
    place = 0
    for span in sorted(spans, key=lambda s: s.start):
        if not place <= span.start < span.end <= len(story):
            continue
        pieces.append(escape(story[place : span.start]))
        words = story[span.start : span.end]
        pieces.append(format_html(MARK, span.kind, span.label, words, span.number))
        place = span.end
    pieces.append(escape(story[place:]))
    return mark_safe("".join(pieces))  # noqa: S308 - each piece is escaped above
