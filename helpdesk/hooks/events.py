"""What the desk tells other programs: which events there are, and what each says to whom.

A target that belongs to a source hears of the cases that came by it, with the words meant for the
person and the address of their private page, for its bot passes them on. Every other target hears
that something happened to a case by its number: no names, no words, no addresses, no private links.
"""

import json
from collections.abc import Callable, Mapping
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string

from helpdesk.answers.letters import Letter, make_letter
from helpdesk.answers.models import Answer
from helpdesk.answers.pieces import SHORTEST_LIMIT, cut_letter
from helpdesk.answers.services import read_letter
from helpdesk.cases.models import Appearance, CaseState, Channel, Event, Message
from helpdesk.diagnosis.selectors import get_view
from helpdesk.hooks.models import HookConversation
from helpdesk.outbox.models import LINK_MARK

RECEIVED = "report.received"
ASKED = "question.asked"
ANSWERED = "answer.sent"
FEATURED = "case.featured"
CLOSED = "case.closed"
CONSENT_CHANGED = "consent.changed"
CONSENT_WITHDRAWN = "consent.withdrawn"
JOINED = "case.joined"
TEST = "desk.test"

KINDS: Mapping[str, str] = {
    RECEIVED: "a report was received",
    ASKED: "a question was asked",
    ANSWERED: "an answer was sent",
    FEATURED: "a case was featured in an episode",
    CLOSED: "a case was closed",
    CONSENT_CHANGED: "what may be shown was agreed anew",
    CONSENT_WITHDRAWN: "what may be shown was withdrawn",
    JOINED: "a case was joined to another",
}
MOST_BYTES = 19_000  # the specification advises less than 20 kB


def kind_of(event: Event) -> str:
    """Return the type an event of the history has for others, "" when it is not for them."""
    if event.kind == "state":
        return CLOSED if event.data.get("state") == CaseState.CLOSED else ""
    if event.kind == "consent":
        return _kind_of_consent(event)
    known = {"received": RECEIVED, "asked": ASKED, "answer": ANSWERED}
    return {**known, "featured": FEATURED, "joined": JOINED}.get(event.kind, "")


def _kind_of_consent(event: Event) -> str:
    """Return the type of a change of consent; a first one that agrees to nothing is no news."""
    if _agrees(event):
        return CONSENT_CHANGED
    earlier = Event.objects.filter(case=event.case_id, kind="consent", pk__lt=event.pk)
    return CONSENT_WITHDRAWN if any(map(_agrees, earlier)) else ""


def _agrees(event: Event) -> bool:
    return bool(event.data.get("may_publish_answer") or event.data.get("may_show_photos"))


def write_body(event: Event, kind: str, talk: HookConversation | None) -> str:
    """Return the message about an event; the conversation is given where the target may know it."""
    case = event.case
    data: dict[str, Any] = {"case": case.pk, "state": case.state}
    pieces: tuple[str, ...] = ()
    if talk:
        data |= {"conversation": talk.name, "private_link": LINK_MARK}
    if kind in _DETAILS:
        data |= _DETAILS[kind](event)
    if talk and is_passed_on(event, kind):
        limit = talk.source.length_limit
        if kind == ASKED:
            pieces = cut_letter(_question_letter(event), limit).texts
        else:
            pieces = _answer_pieces(event, limit)
    return _fit(kind, event, data, pieces)


def is_passed_on(event: Event, kind: str) -> bool:
    """Return whether an event holds words that a bot is to pass on; a letter carries its own."""
    if kind == ANSWERED:
        return bool(event.data.get("via") != Channel.MAIL)
    return kind == ASKED and event.case.reply_channel != Channel.MAIL


def write_test_body(moment: str) -> str:
    """Return the message an admin sends to try a target."""
    words = f"{settings.DESK_NAME} tries whether its messages arrive."
    return _dump({"type": TEST, "timestamp": moment, "data": {"text": words}})


def _featured(event: Event) -> dict[str, Any]:
    """Return where a case was shown."""
    number = event.data.get("episode")
    shown = Appearance.objects.filter(case=event.case_id, episode_number=number).first()
    return {
        "episode": number,
        "title": shown.episode_title if shown else "",
        "second": event.data.get("seconds"),
        "link": shown.link if shown else "",
    }


def _consent(event: Event) -> dict[str, Any]:
    """Return what may be shown now; who said so stays with the desk."""
    names = ("may_publish_answer", "may_show_photos", "credit_kind")
    return {name: event.data.get(name) for name in names}


def _joined(event: Event) -> dict[str, Any]:
    return {"with_case": event.data.get("case")}


_DETAILS: Mapping[str, Callable[[Event], dict[str, Any]]] = {
    FEATURED: _featured,
    CONSENT_CHANGED: _consent,
    CONSENT_WITHDRAWN: _consent,
    JOINED: _joined,
}


def _question_letter(event: Event) -> Letter:
    """Return a question as a letter, dangers first."""
    message = Message.objects.filter(case=event.case_id, pk=event.data.get("message", 0)).first()
    view = get_view(event.case)
    context = {
        "case": event.case,
        "message": message,
        "actor": event.actor,
        "dangers": view.dangers if view else (),
        "private_link": LINK_MARK,
        "desk_name": settings.DESK_NAME,
    }
    return make_letter(render_to_string("review/email/question.txt", context), ())


def _answer_pieces(event: Event, limit: int) -> tuple[str, ...]:
    """Return an answer in messages, its cautions first."""
    answer = Answer.objects.filter(case=event.case_id, pk=event.data.get("answer", 0)).first()
    if answer is None:
        return ()
    letter = read_letter(answer, via=answer.sent_via)
    return cut_letter(letter, max(SHORTEST_LIMIT, min(limit, answer.length_limit))).texts


def _fit(kind: str, event: Event, data: dict[str, Any], pieces: tuple[str, ...]) -> str:
    """Return the message as JSON; the last pieces are left out where it would be too large."""
    texts = [*pieces]
    message = {"type": kind, "timestamp": event.at.isoformat(), "data": data}
    if pieces:
        data |= {"texts": texts, "is_cut": False}
    body = _dump(message)
    while len(body.encode()) > MOST_BYTES and texts:
        texts.pop()
        data["is_cut"] = True
        body = _dump(message)
    return body


def _dump(message: Mapping[str, Any]) -> str:
    return json.dumps(message, ensure_ascii=False, separators=(",", ":"))
