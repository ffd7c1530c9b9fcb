"""Everything that changes a case. Each function is one transaction and leaves an event."""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F

from helpdesk.accounts.models import User
from helpdesk.cases.errors import AlreadyTakenError, StaleCaseError, TransitionError
from helpdesk.cases.models import (
    AccessLink,
    Appearance,
    Case,
    CaseState,
    Channel,
    ConsentRecord,
    CreditKind,
    Event,
    Message,
    MessageKind,
    Outcome,
    OutcomeResult,
    QueueRank,
    Report,
)
from helpdesk.cases.tokens import hash_token, make_token
from helpdesk.core import clock
from helpdesk.core.jobs import start_job

LINK_LIFE = datetime.timedelta(days=400)
CONSENT_WORDING = "2026-11"
TOLD_WORDING = "told to reviewer"
NEWS_LIFE = datetime.timedelta(days=1)  # what is brought in from long ago is no news
AT_THEIR_WISH = "Erased at the person’s wish"
DESK = "the desk"
PERSON = "the person"
TITLE_WORDS = 9

# From each state, the states that may follow. A reply or a bad outcome brings a case back.
STEPS: Mapping[str, frozenset[str]] = {
    CaseState.RECEIVED: frozenset({CaseState.ASKED, CaseState.ANSWERED, CaseState.CLOSED}),
    CaseState.ASKED: frozenset({CaseState.RECEIVED, CaseState.ANSWERED, CaseState.CLOSED}),
    CaseState.ANSWERED: frozenset({CaseState.RECEIVED, CaseState.ASKED, CaseState.CLOSED}),
    CaseState.CLOSED: frozenset({CaseState.RECEIVED}),
}
ENDINGS: Mapping[str, str] = {
    OutcomeResult.WORKED: "It worked",
    OutcomeResult.GAVE_UP: "They gave it up",
}
UNANSWERED = (CaseState.RECEIVED, CaseState.ASKED)
# Read anew under the lock before a case moves.
STORED_FIRST = ("state", "version", "danger_name", "follow_up_on", "closed_at", "joined_to_id")
# Kinds of event that other programs may hear of, beside the closing of a case.
ANNOUNCED = frozenset({"received", "asked", "answer", "featured", "consent", "joined"})
SHARED_FACTS = ("machine", "material", "material_maker")
FACT_FIELDS = (
    "title",
    "process",
    "machine",
    "material",
    "material_maker",
    "batch",
    "layer_height_mm",
    "nozzle_mm",
    "nozzle_c",
    "bed_c",
    "speed_mm_s",
    "failed_at_mm",
    "tried",
)


@dataclass(frozen=True, kw_only=True)
class Consent:
    """What a person agrees to; everything is refused unless said otherwise."""

    may_publish_answer: bool = False
    may_show_photos: bool = False
    credit_kind: str = CreditKind.ANONYMOUS
    credit_as: str = ""
    is_under_16: bool = False
    guardian_agreed: bool = False


@dataclass(frozen=True)
class Quote:
    """What a person said about consent to somebody of the desk, and where."""

    words: str
    where: str = ""


@dataclass(frozen=True, kw_only=True)
class NewReport:
    """A report as a channel hands it over; facts holds Case fields by name."""

    story: str
    submission_key: str
    channel: str = Channel.WEB
    title: str = ""
    facts: Mapping[str, Any] = field(default_factory=dict)
    facts_as_sent: Mapping[str, str] = field(default_factory=dict)
    person_name: str = ""
    reply_channel: str = Channel.MAIL
    email: str = ""
    handle: str = ""
    handle_where: str = ""
    is_own_print: bool = True
    owner_name: str = ""
    owner_link: str = ""
    link: str = ""
    consent: Consent = field(default_factory=Consent)
    keeps_originals: bool = False


@transaction.atomic
def open_case(new: NewReport, *, at: datetime.datetime | None = None) -> tuple[Case, bool]:
    """Make a case of a report; a submission key seen before returns its case and False."""
    known = Report.objects.filter(submission_key=new.submission_key).select_related("case").first()
    if known:
        return known.case, False
    now = at or clock.now()
    facts = {name: value for name, value in new.facts.items() if name in FACT_FIELDS}
    case = Case(
        **facts,
        opened_at=now,
        waiting_since=now,
        channel=new.channel,
        person_name=new.person_name,
        reply_channel=new.reply_channel,
        email=new.email,
        handle=new.handle,
        handle_where=new.handle_where,
        is_own_print=new.is_own_print,
        owner_name=new.owner_name,
        owner_link=new.owner_link,
    )
    case.title = new.title or facts.get("title") or title_from(new.story)
    # The database holds the constraints; asking beforehand takes a query for each.
    case.full_clean(exclude=["assigned_to"], validate_constraints=False)
    case.save()
    try:
        with transaction.atomic():
            Report.objects.create(
                case=case,
                channel=new.channel,
                story=new.story,
                facts=dict(new.facts_as_sent),
                received_at=now,
                submission_key=new.submission_key,
                link=new.link,
                keeps_originals=new.keeps_originals,
            )
    except IntegrityError:  # the same form was posted twice at once and the other was first
        case.delete()
        return Report.objects.get(submission_key=new.submission_key).case, False
    record_event(case, kind="received", what=f"Received by {case.get_channel_display()}", at=now)
    # Consent is never assumed for somebody else's print.
    consent = new.consent if new.is_own_print else Consent(credit_kind=CreditKind.ANONYMOUS)
    record_consent(case, consent, given_by=new.person_name or PERSON, at=now)
    request_diagnosis(case, cause="report received", key="received")
    start_job("note-people", key=f"note-people:{case.pk}", payload={"case": case.pk})
    request_comparison(case, key="received")
    return case, True


def request_diagnosis(case: Case, *, cause: str, key: str) -> None:
    """Ask for the engine's view of a case in the background; `key` names what changed."""
    start_job(
        "diagnose-case",
        key=f"diagnose-case:{case.pk}:{key}",
        payload={"case": case.pk, "cause": cause},
    )


def request_comparison(case: Case, *, key: str) -> None:
    """Ask for a case to be compared with others about, perhaps, the same print."""
    start_job(
        "look-for-duplicates",
        key=f"look-for-duplicates:{case.pk}:{key}",
        payload={"case": case.pk},
    )


def title_from(story: str) -> str:
    """Return the first words of a story as a working title."""
    words = story.split()
    title = " ".join(words[:TITLE_WORDS])
    cut = title[:100].rstrip(" ,.;:")
    return (cut + ("…" if len(words) > TITLE_WORDS or len(title) > 100 else "")) or "Untitled print"


def record_event(
    case: Case,
    *,
    kind: str,
    what: str,
    actor: User | None = None,
    actor_name: str = "",
    why: str = "",
    data: Mapping[str, Any] | None = None,
    at: datetime.datetime | None = None,
) -> Event:
    """Write one line of the case's history.

    Other programs hear of the kinds in ANNOUNCED, unless it happened long ago.
    """
    event = Event.objects.create(
        case=case,
        kind=kind,
        what=what[:200],
        why=why,
        actor=actor,
        actor_name=(actor.short_name if actor else actor_name) or DESK,
        data=dict(data or {}),
        at=at or clock.now(),
    )
    is_told = kind in ANNOUNCED or event.data.get("state") == CaseState.CLOSED
    if is_told and event.at > clock.now() - NEWS_LIFE:
        start_job("announce-event", key=f"announce:{event.pk}", payload={"event": event.pk})
    return event


def queue_rank_of(case: Case) -> int:
    """Return where a case stands in the queue; danger comes first until it is answered.

    A joined case stands behind its lead, and a danger read in either counts for the lead.
    """
    if case.joined_to_id:
        return QueueRank.JOINED
    if case.state == CaseState.CLOSED:
        return QueueRank.CLOSED
    if case.state == CaseState.ANSWERED:
        return QueueRank.ANSWERED
    if case.danger_name or case.joined.exclude(danger_name="").exists():
        return QueueRank.DANGER
    return QueueRank.OURS if case.state == CaseState.RECEIVED else QueueRank.THEIRS


def rank_again(case: Case) -> None:
    """Store where a case stands in the queue after something beside it changed."""
    case.queue_rank = queue_rank_of(case)
    Case.objects.filter(pk=case.pk).update(queue_rank=case.queue_rank)


@transaction.atomic
def change_state(
    case: Case,
    state: str,
    *,
    actor: User | None = None,
    actor_name: str = "",
    why: str = "",
    at: datetime.datetime | None = None,
) -> Case:
    """Move a case one step from where it stands now; raises TransitionError for no such step.

    What brings a joined case back to the desk brings its lead back; a lead closed without an
    answer closes those joined to it that wait for one.
    """
    # The case at hand may have been read before somebody else moved it.
    stored = Case.objects.select_for_update().get(pk=case.pk)
    for name in STORED_FIRST:
        setattr(case, name, getattr(stored, name))
    if stored.joined_to and state == CaseState.RECEIVED:
        words = f"Case {case.pk}, joined to this one: {why}" if why else f"Case {case.pk} is back"
        change_state(stored.joined_to, state, actor=actor, actor_name=actor_name, why=words, at=at)
    if state == case.state:
        return case
    before = case.state
    if state not in STEPS[before]:
        raise TransitionError(f"A case cannot go from {before} to {state}.")
    now = at or clock.now()
    case.state = state
    case.waiting_since = now
    case.closed_at = now if state == CaseState.CLOSED else None
    if state != CaseState.ANSWERED:
        case.follow_up_on = None
    case.queue_rank = queue_rank_of(case)
    case.version += 1
    case.save(
        update_fields=[
            "state",
            "waiting_since",
            "closed_at",
            "follow_up_on",
            "queue_rank",
            "version",
        ]
    )
    record_event(
        case,
        kind="state",
        what=CaseState(state).label,
        actor=actor,
        actor_name=actor_name,
        why=why,
        at=now,
        data={"state": state},
    )
    if state == CaseState.CLOSED and before in UNANSWERED:
        for joined in case.joined.filter(state__in=UNANSWERED):
            change_state(joined, state, actor=actor, actor_name=actor_name, why=why, at=now)
    return case


@transaction.atomic
def claim_case(case_id: int, *, user: User) -> Case:
    """Give a case nobody has to a reviewer; the database decides between two at once.

    Raises AlreadyTakenError when somebody else has it.
    """
    now = clock.now()
    is_won = Case.objects.filter(pk=case_id, assigned_to__isnull=True).update(
        assigned_to=user, taken_at=now, version=F("version") + 1
    )
    case = Case.objects.select_related("assigned_to").get(pk=case_id)
    if not is_won:
        if case.assigned_to_id == user.pk:
            return case
        holder = case.assigned_to.short_name if case.assigned_to else "somebody"
        raise AlreadyTakenError(f"{holder} has this case.")
    record_event(case, kind="taken", what=f"Taken by {user.short_name}", actor=user, at=now)
    return case


@transaction.atomic
def hand_on_case(case: Case, *, actor: User, to: User | None = None, why: str = "") -> Case:
    """Put a case back for anybody, or give it to one colleague."""
    # The version is counted in the database: the case at hand may have been read before a change.
    Case.objects.filter(pk=case.pk).update(
        assigned_to=to, taken_at=clock.now() if to else None, version=F("version") + 1
    )
    case.refresh_from_db(fields=["assigned_to", "taken_at", "version"])
    what = f"Handed on to {to.short_name}" if to else "Put back for anybody"
    record_event(case, kind="handed_on", what=what, actor=actor, why=why)
    return case


@transaction.atomic
def update_facts(case_id: int, changes: Mapping[str, Any], *, version: int, actor: User) -> Case:
    """Save changed facts if the case is still at `version`.

    Raises StaleCaseError, holding the case as it is now, when somebody saved first.
    """
    case = Case.objects.select_for_update().get(pk=case_id)
    if case.version != version:
        raise StaleCaseError(case)
    changed = {}
    for name in FACT_FIELDS:
        if name in changes and changes[name] != getattr(case, name):
            changed[name] = [getattr(case, name), changes[name]]
            setattr(case, name, changes[name])
    if not changed:
        return case
    case.version += 1
    case.full_clean(exclude=["assigned_to"])
    case.save()
    labels = ", ".join(_label(name) for name in changed)
    record_event(case, kind="facts", what=f"Changed: {labels}", actor=actor, data=changed)
    request_diagnosis(case, cause=f"Changed: {labels}", key=f"facts:{case.version}")
    start_job(
        "index-case", key=f"index-case:{case.pk}:facts:{case.version}", payload={"case": case.pk}
    )
    return case


def _label(name: str) -> str:
    """Return a fact's name as people read it."""
    return name.replace("_", " ")


@transaction.atomic
def set_danger(case: Case, name: str, *, at: datetime.datetime | None = None) -> Case:
    """Note the danger the desk reads in a case, or clear it with ""; moves it in the queue."""
    if case.danger_name == name:
        return case
    case.danger_name = name[:120]
    case.queue_rank = queue_rank_of(case)
    case.save(update_fields=["danger_name", "queue_rank"])
    if case.joined_to:
        rank_again(case.joined_to)
    what = f"Danger found: {name}" if name else "No danger any more"
    record_event(case, kind="danger", what=what, at=at)
    return case


@transaction.atomic
def add_message(
    case: Case,
    *,
    kind: str,
    body: str,
    author: User | None = None,
    author_name: str = "",
    questions: Sequence[Mapping[str, Any]] = (),
    channel: str = "",
    at: datetime.datetime | None = None,
) -> Message:
    """Keep words sent either way, or a note between reviewers."""
    return Message.objects.create(
        case=case,
        kind=kind,
        channel=channel,
        body=body,
        questions=[dict(q) for q in questions],
        author=author,
        author_name=author.short_name if author else author_name,
        sent_at=at or clock.now(),
    )


@transaction.atomic
def add_note(case: Case, *, body: str, author: User) -> Message:
    """Keep a note that only people of the desk see."""
    note = add_message(case, kind=MessageKind.NOTE, body=body, author=author)
    record_event(case, kind="note", what="Note kept", actor=author)
    return note


@transaction.atomic
def record_consent(
    case: Case,
    consent: Consent,
    *,
    given_by: str,
    quote: Quote | None = None,
    at: datetime.datetime | None = None,
) -> ConsentRecord:
    """Keep what was agreed as proof and copy it to the case.

    `quote` is given where the person did not use a form but told it to somebody of the desk.
    """
    now = at or clock.now()
    values = {
        "may_publish_answer": consent.may_publish_answer,
        "may_show_photos": consent.may_show_photos,
        "credit_kind": consent.credit_kind,
        "credit_as": consent.credit_as,
        "is_under_16": consent.is_under_16,
        "guardian_agreed": consent.guardian_agreed,
    }
    record = ConsentRecord.objects.create(
        case=case,
        **values,
        wording=TOLD_WORDING if quote else CONSENT_WORDING,
        quote=quote.words if quote else "",
        quote_where=quote.where if quote else "",
        given_by=given_by,
        given_at=now,
    )
    allowed_before = case.allowed_uses
    for name, value in values.items():
        setattr(case, name, value)
    case.save(update_fields=list(values))
    if taken_back := sorted(allowed_before - case.allowed_uses):
        start_job(
            "note-withdrawal",
            key=f"note-withdrawal:{record.pk}",
            payload={"case": case.pk, "key": f"consent:{record.pk}", "uses": taken_back},
        )
    agreed = [
        words
        for is_yes, words in (
            (consent.may_publish_answer, "answer"),
            (consent.may_show_photos, "photos"),
        )
        if is_yes
    ]
    what = "May be shown: " + (" and ".join(agreed) or "nothing")
    record_event(case, kind="consent", what=what, actor_name=given_by, at=now, data=values)
    start_job(
        "index-case", key=f"index-case:{case.pk}:consent:{record.pk}", payload={"case": case.pk}
    )
    return record


@transaction.atomic
def record_outcome(
    case: Case,
    *,
    result: str,
    said_by: str = PERSON,
    remedy: str = "",
    words: str = "",
    actor: User | None = None,
    at: datetime.datetime | None = None,
) -> Outcome:
    """Keep what became of the print; a cure closes the case, a failure brings it back.

    Who gave the print up is not asked to go on: that closes the case, too. But for who has not
    tried it yet, nobody is asked again how it went.

    `remedy` is the step of the answer that did it, SOMETHING_ELSE, NOT_KNOWN, or "" where nothing
    was said of it. `actor` is the reviewer who enters what the person said elsewhere.
    """
    now = at or clock.now()
    outcome = Outcome.objects.create(
        case=case, result=result, remedy=remedy, words=words, said_by=said_by, said_at=now
    )
    label = OutcomeResult(result).label
    record_event(
        case,
        kind="outcome",
        what=f"Outcome: {label}",
        actor=actor,
        actor_name=said_by,
        why=words,
        data={"remedy": remedy} if remedy else {},
        at=now,
    )
    move = partial(change_state, case, actor=actor, actor_name=said_by, at=now)
    if result != OutcomeResult.NOT_TRIED and case.follow_up_on is not None:
        case.follow_up_on = None
        case.save(update_fields=["follow_up_on"])
    if result in ENDINGS and case.state != CaseState.CLOSED:
        move(CaseState.CLOSED, why=ENDINGS[result])
    elif result == OutcomeResult.DID_NOT_WORK and case.state in (
        CaseState.ANSWERED,
        CaseState.CLOSED,
    ):
        move(CaseState.RECEIVED, why="It did not work")
    start_job(
        "index-case", key=f"index-case:{case.pk}:outcome:{outcome.pk}", payload={"case": case.pk}
    )
    return outcome


@transaction.atomic
def record_appearance(
    case: Case,
    *,
    episode_number: int,
    episode_title: str,
    starts_at_s: int,
    on_date: datetime.date,
    link: str = "",
    actor: User | None = None,
) -> tuple[Appearance, bool]:
    """Note that a case was featured; safe to repeat. The second value says it was new."""
    appearance, is_new = Appearance.objects.update_or_create(
        case=case,
        episode_number=episode_number,
        defaults={
            "episode_title": episode_title,
            "starts_at_s": starts_at_s,
            "on_date": on_date,
            "link": link,
        },
    )
    if is_new:
        minutes, seconds = divmod(starts_at_s, 60)
        record_event(
            case,
            kind="featured",
            what=f"Featured in episode {episode_number} at {minutes}:{seconds:02}",
            actor=actor,
            data={"episode": episode_number, "seconds": starts_at_s},
        )
    return appearance, is_new


@transaction.atomic
def issue_link(case: Case, *, token: str = "") -> str:
    """Make a new private address for a case and return its token, which is not kept.

    A caller that can make the same unguessable token again may give it.
    """
    token = token or make_token()
    now = clock.now()
    AccessLink.objects.create(
        case=case, token_hash=hash_token(token), created_at=now, expires_at=now + LINK_LIFE
    )
    return token


@transaction.atomic
def erase_person(case: Case, *, by: str, what: str = AT_THEIR_WISH) -> Case:
    """Remove who sent a case and all their words; the technical record stays, nameless.

    `what` stands in place of the title. What other apps hold goes by `cases.erasure`; the whole
    of it is `keeping.erasing.erase_case`.
    """
    for name in (
        "person_name",
        "email",
        "handle",
        "handle_where",
        "owner_name",
        "owner_link",
        "credit_as",
        "tried",
        "batch",
    ):
        setattr(case, name, "")
    for name in SHARED_FACTS:  # a word nobody else uses may tell who it was
        words = getattr(case, name)
        others = Case.objects.filter(**{name: words}, erased_at__isnull=True).exclude(pk=case.pk)
        if words and not others.exists():
            setattr(case, name, "")
    case.title = what
    case.may_publish_answer = case.may_show_photos = False
    case.credit_kind = CreditKind.ANONYMOUS
    case.erased_at = clock.now()
    case.danger_name = ""
    case.save()
    if case.joined_to:
        rank_again(case.joined_to)
    case.reports.update(story="", facts={}, link="")
    case.messages.all().delete()
    case.outcomes.update(words="", said_by=PERSON)
    case.consents.update(credit_as="", given_by=PERSON, quote="", quote_where="")
    case.links.update(revoked_at=clock.now())
    case.events.update(why="", data={})
    case.events.filter(actor__isnull=True).exclude(actor_name=DESK).update(actor_name=PERSON)
    if case.state != CaseState.CLOSED:
        change_state(case, CaseState.CLOSED, actor_name=by)
    record_event(case, kind="erased", what=what, actor_name=by)
    start_job("index-case", key=f"index-case:{case.pk}:erased", payload={"case": case.pk})
    return case
