"""Makers, cases that name them, and statements with all that may be missing."""

import datetime
from typing import Any

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case
from helpdesk.cases.services import Consent
from helpdesk.core import clock
from helpdesk.diagnosis.services import set_verdict
from helpdesk.outbox.models import OutgoingMail
from helpdesk.outbox.services import deliver_mail
from helpdesk.people.services import note_people
from helpdesk.photos.models import Photo
from helpdesk.photos.services import prepare_photo, receive_photo
from helpdesk.supply.models import Statement, Subject
from helpdesk.supply.services import SubjectFacts, add_subject, note_subjects
from helpdesk.supply.statements import Asking, add_picture, ask_reply, write_statement
from tests.architecture.world import make_picture
from tests.factories import make_case

AGREED = Consent(may_show_photos=True)
FAULT = "filament-diameter-off"
NEUTRAL = "On this spool, printed at 210 °C, the strand measured 1.61 to 1.89 mm."
FACTS = {"process": "MEX", "machine": "Tern 220", "material": "PLA", "material_maker": "Fennmoor"}


def make_maker(actor: User, **overrides: Any) -> Subject:
    """Write down a maker."""
    facts: dict[str, Any] = {"kind": "maker", "name": "Fennmoor"}
    return add_subject(SubjectFacts(**(facts | overrides)), actor=actor)


def make_case_of(maker: str = "Fennmoor", *, batch: str = "", **overrides: Any) -> Case:
    """Open a case that names a maker, and let the desk link it."""
    facts = FACTS | {"material_maker": maker, "batch": batch}
    case = make_case(**({"facts": facts, "consent": AGREED} | overrides))
    note_people(case.pk)
    note_subjects(case.pk)
    return case


def add_photo(case: Case, size: int = 64) -> Photo:
    """Add a photo that is ready."""
    photo = receive_photo(make_picture(size), label="a.jpg", case=case, alt_text="A white box")
    prepare_photo(photo.pk)
    photo.refresh_from_db()
    return photo


def ask_by_hand(statement: Statement, actor: User, *, days_ago: int = 8) -> None:
    """Keep that the subject was asked some days ago."""
    on_date = clock.today() - datetime.timedelta(days=days_ago)
    asking = Asking(way="form", to="Their form", text=f"We say: {statement.text}", on_date=on_date)
    ask_reply(statement, asking, actor=actor)


def make_sayable(case: Case, subject: Subject, actor: User, text: str = NEUTRAL) -> Statement:
    """Write a statement on a case with everything it needs."""
    statement = write_statement(subject, case, text, actor=actor)
    add_picture(statement, add_photo(case), "The strand in the gauge", actor=actor)
    ask_by_hand(statement, actor)
    return Statement.objects.get(pk=statement.pk)


def confirm(case: Case, actor: User, fault: str = FAULT) -> None:
    """Confirm a fault that says something of a maker."""
    set_verdict(case, [fault], actor=actor)


def send_letters() -> None:
    """Let the letters that wait go out, as a worker does."""
    for mail_id in OutgoingMail.objects.filter(sent_at=None).values_list("pk", flat=True):
        deliver_mail(mail_id)
