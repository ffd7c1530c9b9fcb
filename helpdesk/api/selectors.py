"""Reading what a program may know: its own cases, what happened to them, the published answers."""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.db.models import Count, QuerySet
from django.urls import reverse

from helpdesk.answers.models import Answer
from helpdesk.answers.selectors import (
    LibraryFilter,
    find_public_answers,
    list_sent_answers,
    show_answers,
)
from helpdesk.api.models import CaseRef, ChannelToken
from helpdesk.cases.models import Appearance, Case, CaseState, Event, MessageKind
from helpdesk.cases.selectors import list_conversation
from helpdesk.cases.tokens import hash_token
from helpdesk.core import clock
from helpdesk.outbox.models import LINK_MARK

PAGE_EVENTS = 100
PAGE_ANSWERS = 20
# Two processes may commit in another order than they began; an event is told once those that
# began before it have surely ended, so that nobody continues past one that is yet to come.
SETTLING = datetime.timedelta(seconds=10)
KINDS: Mapping[str, str] = {
    "received": "report.received",
    "reply": "reply.received",
    "asked": "question.asked",
    "answer": "answer.sent",
    "outcome": "outcome.told",
    "featured": "case.featured",
    "joined": "case.joined",
    "erased": "case.erased",
    "consent": "consent.changed",
    "state": "case.closed",
}


@dataclass(frozen=True)
class EventPage:
    """Some events, oldest first, and the place to continue from."""

    events: list[dict[str, Any]]
    last: int


def find_token(token: str) -> ChannelToken | None:
    """Return the live token with this secret, or None."""
    found = ChannelToken.objects.filter(token_hash=hash_token(token)).first()
    return found if found and found.is_alive else None


def list_tokens() -> QuerySet[ChannelToken]:
    """Return every token with how many cases came by it, those in use first."""
    return (
        ChannelToken.objects.select_related("created_by")
        .annotate(case_count=Count("case_refs"))
        .order_by("revoked_at", "name")
    )


def find_case(token: ChannelToken, ref: str) -> CaseRef | None:
    """Return a case that came by a token, by its reference."""
    return CaseRef.objects.select_related("case").filter(token=token, ref=ref).first()


def describe_case(row: CaseRef, *, link: str | None) -> dict[str, Any]:
    """Return a case as its program may know it: nothing internal, nothing of other people."""
    case = row.case
    asked = _find_question(case)
    outcome = case.outcomes.order_by("said_at", "pk").last()
    return {
        "ref": row.ref,
        "state": case.state,
        "received_at": case.opened_at.isoformat(),
        "asked": asked.body if asked else None,
        "questions": [
            {"question": str(one.get("question", "")), "help": str(one.get("help", ""))}
            for one in (asked.questions if asked else ())
            if not one.get("reply")
        ],
        "answers": [
            {
                "sent_at": _moment(answer.sent_at),
                "text": answer.sent_text.replace(LINK_MARK, link or ""),
            }
            for answer in list_sent_answers(case)
        ],
        "outcome": outcome.result if outcome else None,
        "featured": [describe_appearance(shown) for shown in case.appearances.order_by("pk")],
        "may_publish_answer": case.may_publish_answer,
        "may_show_photos": case.may_show_photos,
        "link": link,
    }


def describe_appearance(shown: Appearance) -> dict[str, Any]:
    """Return where a case was shown."""
    return {
        "episode": shown.episode_number,
        "title": shown.episode_title,
        "starts_at_s": shown.starts_at_s,
        "on": shown.on_date.isoformat(),
        "link": shown.link,
    }


def list_events(token: ChannelToken, *, after: int) -> EventPage:
    """Return what happened to a token's cases after a place, a page at a time."""
    refs = dict(token.case_refs.values_list("case", "ref"))
    rows = (
        Event.objects.filter(
            pk__gt=after,
            case__api_refs__token=token,
            kind__in=KINDS,
            at__lte=clock.now() - SETTLING,
        )
        .exclude(kind="state", what__in=[s.label for s in CaseState if s != CaseState.CLOSED])
        .order_by("pk")[:PAGE_EVENTS]
    )
    events = [
        {
            "id": str(row.pk),
            "type": KINDS[row.kind],
            "at": row.at.isoformat(),
            "ref": refs[row.case_id],
        }
        for row in rows
    ]
    return EventPage(events=events, last=int(events[-1]["id"]) if events else after)


def search_library(words: str, *, before: int | None) -> dict[str, Any]:
    """Return published answers that hold the words, newest first."""
    found = find_public_answers(LibraryFilter(words=words)).order_by("-pk")
    if before is not None:
        found = found.filter(pk__lt=before)
    rows = list(found[: PAGE_ANSWERS + 1])
    shown = show_answers(rows[:PAGE_ANSWERS])
    more = len(rows) > PAGE_ANSWERS
    return {
        "answers": [
            {
                "title": one.answer.published_title,
                "text": one.answer.published_body,
                "machine": one.answer.case.machine,
                "material": one.answer.case.material,
                "outcome": one.outcome,
                "published_at": _moment(one.answer.published_at),
                "link": _page_of(one.answer),
                "featured": [describe_appearance(place) for place in one.appearances],
            }
            for one in shown
        ],
        "next": str(rows[PAGE_ANSWERS - 1].pk) if more else None,
    }


def _find_question(case: Case) -> Any:
    """Return the question the person has not replied to, while the case waits for them."""
    if case.state != CaseState.ASKED:
        return None
    for message in list_conversation(case).reverse():
        if message.kind == MessageKind.REPLY:
            return None
        if message.kind == MessageKind.QUESTION:
            return message
    return None


def _moment(at: datetime.datetime | None) -> str:
    return at.isoformat() if at else ""


def _page_of(answer: Answer) -> str:
    return settings.DESK_ADDRESS.rstrip("/") + reverse("answers:published", args=[answer.pk])
