"""Finding cases and answers by words; the one place that knows which index is underneath."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import connection
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from helpdesk.answers.models import Answer
from helpdesk.answers.selectors import list_public_answers
from helpdesk.cases.models import Appearance, Case, Outcome, OutcomeResult
from helpdesk.search.models import SearchEntry
from helpdesk.search.words import longest_words, split_all, split_words

PAGE_SIZE = 20
MAX_PAGES = 10  # nobody reads past 200 hits; a cap keeps the cost of deep pages bounded
FEW_HITS = 5  # with fewer than this for all words, any of the words will do
SIMILAR_WORDS = 8
SIMILAR_POOL = 30
LEAST_SHARED = 2  # words two texts share before one is offered beside the other
START, END = "\ue000", "\ue001"  # private-use marks that no report holds after cleaning
MAX_CHOICES = 80
FILTERS = ("fault", "machine", "material", "outcome")

# Ranking and marking apart: marks are made for the hits shown only. A word that stands in more
# cases than the pool tells little, so only the newest of them are ranked: the cost stays bounded.
POOL = 20_000
SQLITE_BEST = """
    SELECT id FROM (
        SELECT search_words.rowid AS id, bm25(search_words, 4.0, 1.0, 1.0) AS score
        FROM search_words {join}
        WHERE search_words MATCH %s {filters}
        ORDER BY search_words.rowid DESC LIMIT %s
    ) ORDER BY score, id DESC LIMIT %s OFFSET %s
"""
SQLITE_MARKED = """
    SELECT rowid, highlight(search_words, 0, %s, %s), snippet(search_words, -1, %s, %s, ' … ', 32)
    FROM search_words WHERE search_words MATCH %s AND rowid IN ({ids})
"""
# One step through the index for each value, however many rows hold it.
DISTINCT_VALUES = """
    WITH RECURSIVE found(value) AS (
        SELECT min({name}) FROM search_searchentry WHERE {name} > ''
        UNION ALL
        SELECT (SELECT min({name}) FROM search_searchentry WHERE {name} > found.value)
        FROM found WHERE found.value IS NOT NULL
    )
    SELECT value FROM found WHERE value IS NOT NULL LIMIT %s
"""
POSTGRES_HITS = """
    SELECT e.id,
           ts_headline('english', e.title, q, %s),
           ts_headline('english', e.story || ' ' || e.answer, q, %s)
    FROM search_searchentry e, to_tsquery('english', %s) q
    WHERE e.words @@ q {filters}
    ORDER BY ts_rank(e.words, q) DESC, e.case_id DESC
    LIMIT %s OFFSET %s
"""


@dataclass(frozen=True)
class Hit:
    """One case found, with its words marked."""

    case: Case
    entry: SearchEntry
    title: SafeString
    excerpt: SafeString
    appearance: Appearance | None

    @property
    def outcome_label(self) -> str:
        """Return the outcome in words, "" when none is known."""
        return OutcomeResult(self.entry.outcome).label if self.entry.outcome else ""


@dataclass(frozen=True)
class Hits:
    """A page of hits, best first."""

    rows: Sequence[Hit]
    page: int
    has_more: bool
    is_loose: bool  # True when hits hold any of the words, not all


def find_cases(
    typed: str, *, filters: Mapping[str, str] | None = None, page: int = 1, size: int = PAGE_SIZE
) -> Hits:
    """Return one page of the cases and answers that hold the words, best first.

    All words must be there; when that finds too few, any of them will do. Without words the
    newest cases that fit the filters are returned.
    """
    page = max(1, min(page, MAX_PAGES))
    chosen = {k: v for k, v in (filters or {}).items() if k in FILTERS and v}
    words = split_words(typed)
    offset = (page - 1) * size
    if not words:
        entries = SearchEntry.objects.filter(**chosen).order_by("-case_id")
        newest = [(e.pk, e.title, "") for e in entries[offset : offset + size + 1]]
        return _page_of(newest, page=page, size=size, is_loose=False)
    found = _look_up(words, "all", chosen, limit=size + 1, offset=offset)
    is_loose = False
    if page == 1 and len(found) < FEW_HITS and len(words) > 1:
        loose = _look_up(words, "any", chosen, limit=size, offset=0)
        known = {row[0] for row in found}
        extra = [row for row in loose if row[0] not in known]
        is_loose = bool(extra)
        found = (found + extra)[:size]
    return _page_of(found, page=page, size=size, is_loose=is_loose)


def find_similar(case: Case, *, limit: int = 3) -> list[Hit]:
    """Return answered cases that read like this one, those with the same fault first."""
    story = " ".join(case.reports.values_list("story", flat=True))
    words = longest_words(f"{case.title} {story}", limit=SIMILAR_WORDS)
    if not words:
        return []
    found = _look_up(words, "any", {}, limit=SIMILAR_POOL, offset=0, answered_only=True)
    hits = _page_of(found, page=1, size=SIMILAR_POOL, is_loose=True).rows
    others = [h for h in hits if h.case.pk != case.pk]
    others.sort(key=lambda h: h.entry.fault != case.top_fault)  # stable: rank decides the rest
    return others[:limit]


def find_public_similar(text: str, *, limit: int = 3) -> list[Answer]:
    """Return published answers that read like a text, best first.

    The index holds private words too, so an answer counts only when its published words hold
    some of the text's: nobody can learn from a hit what a private story says.
    """
    words = longest_words(text, limit=SIMILAR_WORDS)
    if not words:
        return []
    found = _look_up(words, "any", {}, limit=SIMILAR_POOL, offset=0, answered_only=True)
    places = {row[0]: place for place, row in enumerate(found)}
    answers = list_public_answers().filter(case__search_entry__in=places)
    fitting = [answer for answer in answers if _holds_some(answer, words)]
    fitting.sort(key=lambda answer: places[answer.case.search_entry.pk])
    return fitting[:limit]


def _holds_some(answer: Answer, words: Sequence[str]) -> bool:
    """Return True when what is published of an answer holds enough of the words."""
    published = set(split_all(f"{answer.published_title} {answer.published_body}"))
    return len(published.intersection(words)) >= min(LEAST_SHARED, len(words))


def list_filter_choices() -> dict[str, list[str]]:
    """Return what each filter can be set to, from what is in the index."""
    choices = {}
    with connection.cursor() as cursor:
        for name in ("fault", "machine", "material"):
            cursor.execute(DISTINCT_VALUES.format(name=name), [MAX_CHOICES])
            choices[name] = [row[0] for row in cursor.fetchall()]
    return choices


def _look_up(
    words: Sequence[str],
    how: str,
    filters: Mapping[str, str],
    *,
    limit: int,
    offset: int,
    answered_only: bool = False,
) -> list[tuple[int, str, str]]:
    """Return (entry id, marked title, marked excerpt) from the index of this database."""
    clauses = [f"AND e.{name} = %s" for name in filters]
    if answered_only:
        clauses.append("AND e.answer <> ''")
    chosen = " ".join(clauses), list(filters.values())
    if connection.vendor == "sqlite":
        query = (" AND " if how == "all" else " OR ").join(f'"{w}"' for w in words)
        return _look_up_sqlite(query, *chosen, limit=limit, offset=offset)
    query = (" & " if how == "all" else " | ").join(f"'{w}'" for w in words)
    return _look_up_postgres(query, *chosen, limit=limit, offset=offset)


def _look_up_sqlite(
    query: str, clauses: str, values: Sequence[str], *, limit: int, offset: int
) -> list[tuple[int, str, str]]:
    """Rank the matches of FTS5, then mark the words of those shown."""
    join = "JOIN search_searchentry e ON e.id = search_words.rowid" if clauses else ""
    with connection.cursor() as cursor:
        best = SQLITE_BEST.format(join=join, filters=clauses)
        cursor.execute(best, [query, *values, POOL, limit, offset])
        ids = [row[0] for row in cursor.fetchall()]
        marks = ", ".join(["%s"] * len(ids))
        cursor.execute(SQLITE_MARKED.format(ids=marks), [START, END, START, END, query, *ids])
        marked = {row[0]: (row[0], row[1], row[2]) for row in cursor.fetchall()}
    return [marked[pk] for pk in ids]


def _look_up_postgres(
    query: str, clauses: str, values: Sequence[str], *, limit: int, offset: int
) -> list[tuple[int, str, str]]:
    """Rank and mark the matches of the text search; it marks after it has ranked."""
    options = f"StartSel={START}, StopSel={END}"
    given: list[Any] = [
        f"{options}, HighlightAll=true",
        f"{options}, MaxFragments=1, MaxWords=32, MinWords=12",
        query,
        *values,
        limit,
        offset,
    ]
    with connection.cursor() as cursor:
        cursor.execute(POSTGRES_HITS.format(filters=clauses), given)
        return [(row[0], row[1], row[2]) for row in cursor.fetchall()]


def _page_of(
    found: Sequence[tuple[int, str, str]], *, page: int, size: int, is_loose: bool
) -> Hits:
    """Return hits with their cases, in a fixed number of queries."""
    rows = found[:size]
    entries = {
        e.pk: e
        for e in SearchEntry.objects.filter(pk__in=[r[0] for r in rows]).select_related("case")
    }
    shown = {
        a.case_id: a
        for a in Appearance.objects.filter(case__in=[e.case_id for e in entries.values()])
    }
    hits = [
        Hit(
            case=entries[pk].case,
            entry=entries[pk],
            title=mark_words(title),
            excerpt=mark_words(excerpt or entries[pk].story[:220]),
            appearance=shown.get(entries[pk].case_id),
        )
        for pk, title, excerpt in rows
    ]
    has_more = len(found) > size and page < MAX_PAGES
    return Hits(rows=hits, page=page, has_more=has_more, is_loose=is_loose)


def mark_words(text: str) -> SafeString:
    """Return a text escaped, with what the index marked in <mark>."""
    safe = escape(text)
    return mark_safe(  # noqa: S308 - everything but our two marks was escaped just above
        safe.replace(START, "<mark>").replace(END, "</mark>")
    )


def latest_outcome(case: Case) -> str:
    """Return the last outcome said of a case, "" when none was."""
    last = Outcome.objects.filter(case=case).order_by("-said_at", "-pk").first()
    return last.result if last else ""
