"""A case with everything in it that a person may get a copy of, or have erased."""

from dataclasses import dataclass

import pytest
from django.core.files.base import ContentFile

from helpdesk.accounts.models import User
from helpdesk.answers.models import Answer
from helpdesk.answers.services import draft_answer, send_answer
from helpdesk.cases.models import Case, Channel, MessageKind
from helpdesk.cases.services import Consent, add_message, add_note, issue_link, record_outcome
from helpdesk.core.jobs import run_due_jobs
from helpdesk.diagnosis.services import set_verdict
from helpdesk.people.models import Person, Role
from helpdesk.photos.services import receive_photo
from helpdesk.printfiles.services import receive_file
from tests.factories import make_case
from tests.helpdesk.pictures import draw_picture, picture_bytes

MARK = "zanzibarquince"
GCODE = b"G28\nG1 X10 E1\n"


@dataclass
class Full:
    """A case with words, photos, files, letters, answers and an outcome."""

    case: Case
    answer: Answer
    token: str
    original: bytes

    @property
    def person(self) -> Person:
        """Return who sent it."""
        return self.case.parts.get(role=Role.SUBMITTER).person


def make_full(reviewer: User, **values: object) -> Full:
    """Build the case the way people do; every word of theirs holds the mark."""
    case = make_case(
        **{
            "story": f"The corners of my {MARK} box curl up from the plate.",
            "person_name": f"{MARK} Halvorsen",
            "email": f"{MARK}@tarnstreet.example",
            "handle": f"{MARK}7",
            "handle_where": f"{MARK} chat",
            "consent": Consent(may_show_photos=True, credit_kind="name", credit_as=MARK),
            "keeps_originals": True,
            **values,
        }
    )
    original = picture_bytes(draw_picture(64, 64))
    photo = ContentFile(original, name="a.jpg")
    receive_photo(
        photo, label=f"{MARK}.jpg", case=case, alt_text=f"{MARK} box", keeps_original=True
    )
    receive_file(ContentFile(GCODE, name="rook.gcode"), label=f"{MARK}.gcode", case=case)
    run_due_jobs()
    set_verdict(case, ["belt-loose"], actor=reviewer)
    draft = draft_answer(case, reviewer)
    answer = send_answer(draft.pk, draft.version, reviewer, Channel.MAIL)
    case.refresh_from_db()
    add_message(case, kind=MessageKind.REPLY, body=f"{MARK} reply", author_name=MARK)
    add_note(case, body="Between us: seen on the bench.", author=reviewer)
    record_outcome(case, result="worked", words=f"{MARK} stays flat", said_by=MARK)
    run_due_jobs()
    case.refresh_from_db()
    return Full(case=case, answer=answer, token=issue_link(case), original=original)


@pytest.fixture
def full(reviewer: User) -> Full:
    """Return a case with everything in it."""
    return make_full(reviewer)
