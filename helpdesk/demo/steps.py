"""What can happen to a demo case, each done by the desk's own services."""

from collections.abc import Callable

from helpdesk.accounts.models import User
from helpdesk.answers.models import Answer
from helpdesk.answers.publishing import (
    Publication,
    PublishedPhoto,
    publish_answer,
    suggest_body,
)
from helpdesk.answers.services import DraftText, draft_answer, save_draft, send_answer
from helpdesk.cases.models import Case, CaseState, MessageKind
from helpdesk.cases.services import (
    PERSON,
    add_message,
    add_note,
    change_state,
    claim_case,
    hand_on_case,
    record_event,
    record_outcome,
    request_diagnosis,
)
from helpdesk.demo.data import DemoStep
from helpdesk.diagnosis.opinions import ask_second_look, close_opinion, give_opinion
from helpdesk.diagnosis.services import mark_finding, set_verdict
from helpdesk.episodes.services import add_candidate
from helpdesk.photos.selectors import list_photos
from helpdesk.review.services import ask_person

Step = Callable[[Case, DemoStep, User], None]
STEPS: dict[str, Step] = {}


def step(name: str) -> Callable[[Step], Step]:
    """Register what a word in the demo's TOML does."""

    def register(function: Step) -> Step:
        STEPS[name] = function
        return function

    return register


def do_step(case: Case, what: DemoStep) -> None:
    """Do one step to a case as it is now."""
    case.refresh_from_db()
    STEPS[what.do](case, what, User.objects.get(username=what.who))


@step("take")
def _take(case: Case, what: DemoStep, user: User) -> None:
    claim_case(case.pk, user=user)


@step("hand_on")
def _hand_on(case: Case, what: DemoStep, user: User) -> None:
    to = User.objects.get(username=what.more["to"]) if "to" in what.more else None
    hand_on_case(case, actor=user, to=to, why=what.words)


@step("mark")
def _mark(case: Case, what: DemoStep, user: User) -> None:
    mark_finding(case, what.more["finding"], what.more["state"], actor=user)


@step("verdict")
def _verdict(case: Case, what: DemoStep, user: User) -> None:
    set_verdict(case, list(what.more["faults"]), actor=user)


@step("second_look")
def _second_look(case: Case, what: DemoStep, user: User) -> None:
    """Let a colleague say what the report alone looks like, and close that view unless told not."""
    give_opinion(
        case,
        list(what.more["faults"]),
        reviewer=user,
        sureness=what.more.get("sureness", ""),
        is_blind=True,
    )
    if not what.more.get("stays_open"):
        close_opinion(case, reviewer=user)


@step("ask_second_look")
def _ask_second_look(case: Case, what: DemoStep, user: User) -> None:
    ask_second_look(case, actor=user)


@step("ask")
def _ask(case: Case, what: DemoStep, user: User) -> None:
    ask_person(case, list(what.more.get("findings", [])), words=what.words, actor=user)


@step("reply")
def _reply(case: Case, what: DemoStep, user: User) -> None:
    """Let the person answer: mark what they saw and bring the case back."""
    message = add_message(
        case, kind=MessageKind.REPLY, body=what.words, author_name=case.person_name or PERSON
    )
    for finding, state in what.more.get("seen", {}).items():
        mark_finding(case, finding, state, source="person")
    case.refresh_from_db()
    record_event(case, kind="reply", what="Replied", actor_name=case.person_name or PERSON)
    if case.state == CaseState.ASKED:
        change_state(case, CaseState.RECEIVED, actor_name=case.person_name or PERSON)
    request_diagnosis(case, cause="a reply came", key=f"reply:{message.pk}")


def _write(case: Case, what: DemoStep, user: User) -> Answer:
    """Draft an answer and add the reviewer's own words."""
    answer = draft_answer(case, user)
    if what.words:
        greeting, thanks, *rest = answer.body.split("\n\n")
        body = "\n\n".join([greeting, thanks, what.words.strip(), *rest])
        answer = save_draft(answer.pk, DraftText(body=body), answer.version, user).answer
    return answer


@step("draft")
def _draft(case: Case, what: DemoStep, user: User) -> None:
    _write(case, what, user)


@step("answer")
def _answer(case: Case, what: DemoStep, user: User) -> None:
    """Draft, and send the way the person used."""
    answer = _write(case, what, user)
    send_answer(
        answer.pk,
        answer.version,
        user,
        case.reply_channel,
        follow_up_days=what.more.get("follow_up_days"),
    )


@step("outcome")
def _outcome(case: Case, what: DemoStep, user: User) -> None:
    record_outcome(
        case,
        result=what.more["result"],
        said_by=case.person_name or PERSON,
        remedy=what.more.get("step", ""),
        words=what.words,
    )


@step("note")
def _note(case: Case, what: DemoStep, user: User) -> None:
    add_note(case, body=what.words, author=user)


@step("candidate")
def _candidate(case: Case, what: DemoStep, user: User) -> None:
    add_candidate(case, actor=user, why=what.words)


@step("publish")
def _publish(case: Case, what: DemoStep, user: User) -> None:
    """Show the answer in the library, in words that name nobody."""
    answer = Answer.objects.filter(case=case, sent_at__isnull=False).latest("sent_at")
    photos = list_photos(case)[:1] if case.may_show_in_public else []
    publication = Publication(
        title=what.more["title"],
        body=what.words or suggest_body(answer),
        photos=[PublishedPhoto(photo.pk, photo.alt_text) for photo in photos],
        has_looked_for_names=True,
        has_looked_at_photos=True,
        words_are_no_names=True,
    )
    publish_answer(answer.pk, publication, user)


@step("close")
def _close(case: Case, what: DemoStep, user: User) -> None:
    change_state(case, CaseState.CLOSED, actor=user, why=what.words)
