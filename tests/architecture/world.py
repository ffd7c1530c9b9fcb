"""One desk with something of every kind in it, and a second case that must stay apart."""

import datetime
from dataclasses import dataclass, field
from typing import Any

from django.core.files.base import ContentFile
from django.core.files.uploadedfile import SimpleUploadedFile

from helpdesk.accounts.models import User
from helpdesk.aftershow.models import Description, RollDraft, Supporter
from helpdesk.aftershow.services import keep_supporter
from helpdesk.answers.models import Answer
from helpdesk.answers.publishing import Publication, PublishedPhoto, publish_answer
from helpdesk.answers.services import draft_answer, send_answer
from helpdesk.api.models import ChannelToken
from helpdesk.api.services import make_channel_token
from helpdesk.archive.models import ArchivedShow
from helpdesk.archive.services import import_captions
from helpdesk.capture.imports import keep_table
from helpdesk.capture.models import TableImport
from helpdesk.cases.models import Case, Channel
from helpdesk.cases.services import Consent, issue_link
from helpdesk.conversation.models import SetText
from helpdesk.conversation.services import make_text
from helpdesk.core import clock
from helpdesk.core.jobs import run_due_jobs
from helpdesk.core.models import Job, JobState
from helpdesk.diagnosis.models import KnowledgeRevision
from helpdesk.diagnosis.services import set_verdict
from helpdesk.duplicates.models import Proposal
from helpdesk.episodes.models import Episode, PartKind, Segment, Withdrawal
from helpdesk.episodes.services import add_case, add_segment, make_episode
from helpdesk.episodes.withdrawals import note_withdrawal
from helpdesk.hooks.announcing import send_test
from helpdesk.hooks.models import HookSource, HookTarget
from helpdesk.hooks.services import make_source, make_target
from helpdesk.learning.services import make_revision
from helpdesk.mailroom.models import IncomingMail
from helpdesk.mailroom.services import receive_letter, take_letter
from helpdesk.outbox.marks import make_token
from helpdesk.outbox.models import OutgoingMail
from helpdesk.outbox.services import note_undelivered, queue_mail
from helpdesk.people.models import Merge, Person, Role
from helpdesk.people.services import merge_people, note_people
from helpdesk.photos.models import Photo
from helpdesk.photos.services import receive_photo
from helpdesk.printfiles.models import CaseFile
from helpdesk.printfiles.services import receive_file
from helpdesk.supply.models import EvidencePicture, Notice, Remark, Statement, Subject
from helpdesk.supply.notices import NoticeWords, make_notice
from helpdesk.supply.remarks import NewRemark, add_remark
from helpdesk.supply.services import SubjectFacts, add_subject
from helpdesk.supply.statements import add_picture, write_statement
from tests.factories import make_case, make_user
from tests.helpdesk.pictures import draw_picture, picture_bytes

FAULT = "belt-loose"
CAPTIONS = b"""WEBVTT

00:01.000 --> 00:04.000
Hello and welcome to the show.

00:05.000 --> 00:09.000
The corners of this box lift off the plate.
"""
DRAFT_KEY = "architecture-draft-key-0123456789"
AGREED = Consent(may_publish_answer=True, may_show_photos=True)


@dataclass(kw_only=True)
class World:
    """Everything an address may name, once for a case and once for another."""

    case: Case
    other: Case
    token: str
    other_token: str
    photo: Photo
    other_photo: Photo
    draft_photo: Photo
    case_file: CaseFile
    answer: Answer  # sent and published
    other_answer: Answer  # a draft
    episode: Episode
    other_episode: Episode
    part: Segment
    other_part: Segment
    mail: OutgoingMail
    letter_in: IncomingMail  # set aside, for it names no sender
    lost_mail: OutgoingMail  # did not arrive
    notices: str  # names the address of the case's person
    text: SetText
    job: Job
    revision: KnowledgeRevision
    hook_source: HookSource
    hook_target: HookTarget  # with a source and one delivery
    api_token: ChannelToken
    merge: Merge
    withdrawal: Withdrawal
    supporter: Supporter
    roll_draft: RollDraft
    part_kind: PartKind  # no part is of it
    proposal: Proposal  # of the two cases, not decided
    passed_on: Case  # for an owner somebody named
    table: TableImport
    archived: ArchivedShow  # of the first episode
    subject: Subject  # a maker
    remark: Remark  # a reply that stands on the maker
    statement: Statement  # on the first case, of the maker
    evidence: EvidencePicture  # its picture
    supply_notice: Notice  # a draft on the maker
    supply_photo: Photo  # the picture of a notice that is public
    public_notice: Notice
    people: dict[str, User] = field(default_factory=dict)


def make_picture(size: int) -> SimpleUploadedFile:
    """Return a photo as an upload; another size is another file."""
    return SimpleUploadedFile("IMG_0001.jpg", picture_bytes(draw_picture(size, size)))


def make_world() -> World:
    """Build the desk through its own services."""
    people = {role: make_user(role, role=role) for role in ("reviewer", "producer", "admin")}
    nobody = make_user("nobody")
    nobody.groups.clear()
    people["no role"] = nobody
    reviewer = people["reviewer"]
    case = make_case(consent=AGREED, title="Box with lifted corners")
    other = make_case(title="Vase with a seam")
    photo = receive_photo(make_picture(64), label="a.jpg", case=case, alt_text="A white box")
    other_photo = receive_photo(make_picture(72), label="b.jpg", case=other)
    draft_photo = receive_photo(make_picture(80), label="c.jpg", draft_key=DRAFT_KEY)
    code = ContentFile(b"G28\nG1 X10 E1\n", name="rook.gcode")
    case_file = receive_file(code, label="rook.gcode", case=case)
    run_due_jobs()
    set_verdict(other, [FAULT], actor=reviewer)
    draft = draft_answer(case, reviewer)
    answer = send_answer(draft.pk, draft.version, reviewer, Channel.MAIL)
    publish_answer(
        answer.pk,
        Publication(
            title="Why do the corners of a box lift?",
            body="Plastic shrinks as it cools.",
            photos=[PublishedPhoto(photo.pk, "A white box")],
            has_looked_for_names=True,
            has_looked_at_photos=True,
        ),
        reviewer,
    )
    episode, other_episode = _episode(1), _episode(2)
    part = add_case(episode, case, actor=people["producer"])
    other_part = add_segment(other_episode, kind="notice", slug="A note")
    run_due_jobs()
    for found in (case, other, photo, other_photo, draft_photo, episode, other_episode, part):
        found.refresh_from_db()
    hook_target = _hook_target(people["admin"])
    assert hook_target.source
    Description.objects.create(episode=episode, target="Feed")
    return World(
        case=case,
        other=other,
        token=issue_link(case),
        other_token=issue_link(other),
        photo=photo,
        other_photo=other_photo,
        draft_photo=draft_photo,
        case_file=case_file,
        answer=answer,
        other_answer=draft_answer(other, reviewer),
        episode=episode,
        other_episode=other_episode,
        part=part,
        other_part=other_part,
        mail=OutgoingMail.objects.filter(case=case).latest("pk"),
        letter_in=_letter_in(),
        lost_mail=_lost_mail(case),
        notices=make_token(case.email),
        text=make_text(title="Hello", kind="closing", body="Good luck.", actor=reviewer),
        job=_failed_job(),
        revision=make_revision(1, by=people["admin"]),
        hook_source=hook_target.source,
        hook_target=hook_target,
        api_token=_api_token(people["admin"]),
        merge=_merge(case, reviewer),
        # The desk may have proposed the two by itself.
        proposal=Proposal.objects.update_or_create(
            first=case, second=other, defaults={"probability": 0.97, "made_at": clock.now()}
        )[0],
        part_kind=PartKind.objects.create(name="Workshop visit", usual_s=90),
        withdrawal=note_withdrawal(case.pk, key="architecture", uses=["photos"])[0],
        supporter=keep_supporter(None, {"name": "Ada Fenn"}),
        roll_draft=RollDraft.objects.create(
            label="list.csv", header=["Name"], rows=[], columns=["name"], made_at=clock.now()
        ),
        passed_on=_passed_on(),
        table=_table(reviewer),
        archived=import_captions(CAPTIONS, number=episode.number, label="1.vtt").show,
        people=people,
        **_supply(case, photo, people["producer"]),
    )


def _supply(case: Case, photo: Photo, producer: User) -> dict[str, Any]:
    maker = add_subject(SubjectFacts(kind="maker", name="Fennmoor"), actor=producer)
    words = "On this spool, printed at 210 °C, the strand measured 1.61 to 1.89 mm."
    statement = write_statement(maker, case, words, actor=producer)
    notice_words = NoticeWords(title="Thick strand", text=words, fault="filament-diameter-off")
    public = make_notice(maker, notice_words, actor=producer)
    add_picture(public.statement, photo, "The strand", actor=producer)
    Notice.objects.filter(pk=public.pk).update(state="ready", ready_at=clock.now())
    reply = NewRemark(text="We look at it.", who="the maker", on_date=clock.today())
    return {
        "subject": maker,
        "remark": add_remark(maker, reply, actor=producer),
        "statement": statement,
        "evidence": add_picture(statement, photo, "The strand", actor=producer),
        "supply_notice": make_notice(maker, notice_words, actor=producer),
        "supply_photo": photo,
        "public_notice": public,
    }


def _table(reviewer: User) -> TableImport:
    file = ContentFile(b"Story\nThe corners lift.\n", name="old.csv")
    return keep_table(file, label="old.csv", actor=reviewer)


def _merge(case: Case, by: User) -> Merge:
    person = case.parts.get(role=Role.OWNER).person
    other = Person.objects.create(name="B. Halvorsen", first_seen_at=clock.now())
    return merge_people(person.pk, other.pk, by=by)


def _passed_on() -> Case:
    case = make_case(is_own_print=False, owner_name="Aurel", email="finder@quay.example")
    note_people(case.pk)
    return case


def _episode(number: int) -> Episode:
    return make_episode(
        number=number,
        title=f"Show {number}",
        starts_at=clock.now(),
        slot_s=1200,
        words_per_minute=165,
    )


def _lost_mail(case: Case) -> OutgoingMail:
    mail = queue_mail(case, kind="question", subject="One", text="Question", dedupe_key="lost")
    assert mail
    note_undelivered(message_id=mail.message_id, status="5.2.2", words="Mailbox full")
    mail.refresh_from_db()
    return mail


def _hook_target(admin: User) -> HookTarget:
    source = make_source({"name": "Chat bot"}, actor=admin)
    values = {"name": "Own bot", "url": "https://192.0.2.7/", "source": source}
    target = make_target({**values, "kinds": ["answer.sent"]}, actor=admin)
    send_test(target)
    return target


def _letter_in() -> IncomingMail:
    mail, _ = receive_letter(b"Subject: Holes\r\n\r\nIt has holes.", origin="a test")
    return take_letter(mail.pk)


def _api_token(admin: User) -> ChannelToken:
    row, _ = make_channel_token(
        name="Bot of the Tuesday server",
        channel=Channel.CHAT,
        handle_where="Tuesday server",
        scopes=["report:write"],
        picture_hosts=[],
        expires_at=clock.now() + datetime.timedelta(days=30),
        actor=admin,
    )
    return row


def _failed_job() -> Job:
    values: dict[str, Any] = {"created_at": clock.now(), "run_after": clock.now()}
    return Job.objects.create(
        kind="index-case",
        key="architecture",
        state=JobState.FAILED,
        last_error="It broke",
        **values,
    )
