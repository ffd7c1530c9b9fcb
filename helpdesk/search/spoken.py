"""Finding what was said on the shows, to the second at which the words begin."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.db import connection
from django.utils.safestring import SafeString

from helpdesk.search.models import SpokenPassage
from helpdesk.search.moments import at_second
from helpdesk.search.places import Place, excerpt_of, find_place
from helpdesk.search.selectors import END, FEW_HITS, POOL, START, mark_words
from helpdesk.search.words import split_words

SPOKEN_HITS = 8
MORE_MOMENTS = 3  # others of the same segment that are named beside its best
LOOKED_AT = 8  # passages marked for each hit shown: those of one segment become one hit

SQLITE_BEST = """
    SELECT id FROM (
        SELECT search_spoken.rowid AS id, bm25(search_spoken) AS score
        FROM search_spoken {join}
        WHERE search_spoken MATCH %s {filters}
        ORDER BY search_spoken.rowid DESC LIMIT %s
    ) ORDER BY score, id DESC LIMIT %s
"""
SQLITE_MARKED = """
    SELECT rowid, highlight(search_spoken, 0, %s, %s)
    FROM search_spoken WHERE search_spoken MATCH %s AND rowid IN ({ids})
"""
POSTGRES_HITS = """
    SELECT best.id, ts_headline('english', best.text, best.q, %s)
    FROM (
        SELECT p.id, p.text, q
        FROM search_spokenpassage p, to_tsquery('english', %s) q
        WHERE p.words @@ q {filters}
        ORDER BY ts_rank(p.words, q) DESC, p.id DESC
        LIMIT %s
    ) best
"""


@dataclass(frozen=True)
class Moment:
    """A second of a show, and the address that opens there ("" where the show has none)."""

    second: int
    address: str


@dataclass(frozen=True)
class SpokenHit:
    """A segment in which the words were said: where they begin, and where else."""

    number: int
    show_title: str
    on_date: datetime.date | None
    at: Moment
    segment: int
    title: str
    kind: str
    fault: str
    case_id: int | None
    excerpt: SafeString
    also_at: tuple[Moment, ...] = ()


@dataclass(frozen=True)
class SpokenHits:
    """What was found, best first."""

    rows: Sequence[SpokenHit]
    is_loose: bool  # True when hits hold any of the words, not all


def find_spoken(typed: str, *, fault: str = "", limit: int = SPOKEN_HITS) -> SpokenHits:
    """Return the segments in which the words were said within some seconds, best first.

    All words must be there; when that finds too few, any of them will do. What is quoted must
    stand as it is. Cues do not matter: words across their borders are found as well.
    """
    words = split_words(typed)
    if not words:
        return SpokenHits([], is_loose=False)
    found = _look_up(words, "all", fault, limit=limit)
    is_loose = False
    if len(found) < FEW_HITS and len(words) > 1:
        known = {(hit.number, hit.segment) for hit in found}
        loose = _look_up(words, "any", fault, limit=limit)
        extra = [hit for hit in loose if (hit.number, hit.segment) not in known]
        is_loose = bool(extra)
        found += extra
    return SpokenHits(found[:limit], is_loose=is_loose)


def _look_up(words: Sequence[str], how: str, fault: str, *, limit: int) -> list[SpokenHit]:
    """Return one hit for each segment that holds the words."""
    marked = _marked_passages(words, how, fault, limit=limit * LOOKED_AT)
    if not marked:
        return []
    rows = SpokenPassage.objects.filter(pk__in=marked).select_related("show")
    passages = {row.pk: row for row in rows}
    hits: dict[tuple[int, int], SpokenHit] = {}
    for pk, text in marked.items():
        passage = passages.get(pk)
        if passage is None:  # the show was indexed anew since the words were looked up
            continue
        place = find_place(text, words)
        # What begins in the words of the next passage is found there, at the same second.
        if place is None or place.start >= passage.own_chars:
            continue
        key = (passage.show.number, passage.segment)
        moment = _moment(passage, place)
        if key not in hits:
            hits[key] = _hit(passage, place, moment)
        elif len(hits[key].also_at) < MORE_MOMENTS and moment.second != hits[key].at.second:
            hits[key] = replace(hits[key], also_at=(*hits[key].also_at, moment))
    return list(hits.values())[:limit]


def _hit(passage: SpokenPassage, place: Place, moment: Moment) -> SpokenHit:
    return SpokenHit(
        number=passage.show.number,
        show_title=passage.show.title,
        on_date=passage.show.on_date,
        at=moment,
        segment=passage.segment,
        title=passage.title,
        kind=passage.kind,
        fault=passage.fault,
        case_id=passage.case_id,
        excerpt=mark_words(excerpt_of(place)),
    )


def _moment(passage: SpokenPassage, place: Place) -> Moment:
    """Return the second of the cue in which the words begin."""
    seconds = [second for offset, second in passage.cues if offset <= place.start]
    second = int(seconds[-1] if seconds else passage.cues[0][1])
    link = passage.show.link
    return Moment(second, at_second(link, second) if link else "")


def _marked_passages(words: Sequence[str], how: str, fault: str, *, limit: int) -> dict[int, str]:
    """Return texts with the words marked by passage, best first."""
    clause, values = ("AND p.fault = %s", [fault]) if fault else ("", [])
    if connection.vendor == "sqlite":
        query = (" AND " if how == "all" else " OR ").join(f'"{w}"' for w in words)
        return _marked_sqlite(query, clause, values, limit=limit)
    query = (" & " if how == "all" else " | ").join(f"'{w}'" for w in words)
    options = f"StartSel={START}, StopSel={END}, HighlightAll=true"
    with connection.cursor() as cursor:
        given: list[Any] = [options, query, *values, limit]
        cursor.execute(POSTGRES_HITS.format(filters=clause), given)
        return dict(cursor.fetchall())


def _marked_sqlite(query: str, clause: str, values: Sequence[str], *, limit: int) -> dict[int, str]:
    """Rank the matches of FTS5, then mark the words of the best."""
    join = "JOIN search_spokenpassage p ON p.id = search_spoken.rowid" if clause else ""
    with connection.cursor() as cursor:
        best = SQLITE_BEST.format(join=join, filters=clause)
        cursor.execute(best, [query, *values, POOL, limit])
        ids = [row[0] for row in cursor.fetchall()]
        if not ids:
            return {}
        marks = ", ".join(["%s"] * len(ids))
        cursor.execute(SQLITE_MARKED.format(ids=marks), [START, END, query, *ids])
        marked = dict(cursor.fetchall())
    return {pk: marked[pk] for pk in ids if pk in marked}
