"""What programs read: their cases, what happened, the published answers."""

import datetime
from typing import Any

import pytest

from helpdesk.accounts.models import User
from helpdesk.answers.models import Answer
from helpdesk.api.deliveries import is_reached, list_read
from helpdesk.api.models import ChannelToken
from helpdesk.api.selectors import SETTLING
from helpdesk.cases.models import Case, CaseState, MessageKind
from helpdesk.cases.services import (
    Consent,
    add_message,
    add_note,
    change_state,
    record_appearance,
    record_event,
)
from helpdesk.core import clock
from tests.factories import make_case
from tests.helpdesk.api.calls import Program
from tests.helpdesk.api.conftest import MakeToken

pytestmark = pytest.mark.django_db


def later() -> Any:
    return clock.standing_at(clock.now() + SETTLING * 2)


def an_answer(case: Case, **more: Any) -> Answer:
    now = clock.now()
    return case.answers.create(
        body="x", edited_at=now, sent_at=now, sent_text="Dry it. {private_link}", **more
    )


def test_case_tells_questions_and_answers_and_nothing_internal(
    bot: Program, reviewer: User
) -> None:
    said = bot.report(person={"name": "Bettine", "email": "bettine@tarnstreet.example"}).json()
    case = Case.objects.get()
    add_note(case, body="Between us: the usual.", author=reviewer)
    question = {"finding": "belt-slack", "question": "Is the belt slack?", "help": "Pull it."}
    add_message(case, kind=MessageKind.QUESTION, body="One look, please.", questions=[question])
    change_state(case, CaseState.ASKED)
    an_answer(case)

    response = bot.get(f"/cases/{said['ref']}")

    read = response.json()
    assert (read["state"], read["asked"]) == ("asked", "One look, please.")
    assert read["questions"] == [{"question": "Is the belt slack?", "help": "Pull it."}]
    assert read["answers"][0]["text"] == f"Dry it. {said['link']}"
    for secret in ("usual", "tarnstreet", "belt-slack"):
        assert secret not in response.content.decode()


def test_question_that_was_replied_to_is_open_no_more(bot: Program) -> None:
    ref = bot.report().json()["ref"]
    case = Case.objects.get()
    add_message(case, kind=MessageKind.QUESTION, body="One look, please.")
    change_state(case, CaseState.ASKED)

    bot.post(f"/cases/{ref}/replies", {"text": "It is tight."}, key="r")

    assert bot.get(f"/cases/{ref}").json()["asked"] is None


def test_featured_case_says_where(bot: Program) -> None:
    ref = bot.report().json()["ref"]
    record_appearance(
        Case.objects.get(),
        episode_number=7,
        episode_title="Lifted corners",
        starts_at_s=300,
        on_date=datetime.date(2026, 11, 26),
    )

    assert bot.get(f"/cases/{ref}").json()["featured"] == [
        {
            "episode": 7,
            "title": "Lifted corners",
            "starts_at_s": 300,
            "on": "2026-11-26",
            "link": "",
        }
    ]


def test_events_are_those_of_own_cases_in_order(make_token: MakeToken) -> None:
    (_, first), (_, second) = make_token(), make_token()
    ref = first.report("a").json()["ref"]
    second.report("b")
    make_case()
    first.post(f"/cases/{ref}/replies", {"text": "More."}, key="c")

    with later():
        events = first.get("/events").json()["events"]

    kinds = [event["type"] for event in events]
    assert {event["ref"] for event in events} == {ref}
    assert kinds[0] == "report.received"
    assert kinds[-1] == "reply.received"
    assert [int(event["id"]) for event in events] == sorted(int(event["id"]) for event in events)


def test_events_continue_after_what_was_read(bot: Program) -> None:
    bot.report("a")
    with later():
        first = bot.get("/events").json()
        rest = bot.get("/events", after=first["next"]).json()
    change_state(Case.objects.get(), CaseState.CLOSED)
    with later():
        new = bot.get("/events", after=first["next"]).json()

    assert first["events"]
    assert (rest["events"], rest["next"]) == ([], first["next"])
    assert [event["type"] for event in new["events"]] == ["case.closed"]


def test_event_is_told_once_others_have_ended(bot: Program) -> None:
    bot.report("a")

    assert bot.get("/events").json()["events"] == []


def test_library_holds_what_may_be_shown(bot: Program) -> None:
    shown = make_case(consent=Consent(may_publish_answer=True))
    hidden = make_case()
    for case in (shown, hidden):
        an_answer(
            case,
            published_at=clock.now(),
            published_title="Why do corners lift?",
            published_body="Plastic shrinks.",
        )

    found = bot.get("/answers", q="corners").json()

    assert [one["title"] for one in found["answers"]] == ["Why do corners lift?"]
    assert found["answers"][0]["link"].endswith(f"/{shown.answers.get().pk}")
    assert bot.get("/answers", q="nozzle").json() == {"answers": [], "next": None}


def test_program_that_reads_events_passes_words_on(make_token: MakeToken) -> None:
    row, program = make_token()
    program.report()
    case = Case.objects.get()
    record_event(case, kind="answer", what="Answered", data={"via": "chat"})

    before = [delivery.state for delivery in list_read(case)]
    with later():
        place = program.get("/events").json()["next"]
        program.get("/events", after=place)
    after = [delivery.state for delivery in list_read(case)]

    assert (before, after) == (["waiting"], ["sent"])
    assert is_reached(case)
    ChannelToken.objects.filter(pk=row.pk).update(
        last_used_on=clock.today() - datetime.timedelta(days=3)
    )
    assert not is_reached(case)


def test_program_without_events_passes_nothing_on(make_token: MakeToken) -> None:
    _, program = make_token(scopes=["report:write", "case:read"])
    program.report()

    assert not is_reached(Case.objects.get())
