"""What the demo knows and says of makers, products and lots: asked, corrected and made public."""

import datetime
from collections.abc import Mapping
from typing import Any

from django.db import transaction

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case, Report
from helpdesk.core import clock
from helpdesk.core.jobs import run_due_jobs
from helpdesk.demo.data import read_supply
from helpdesk.episodes.models import Episode
from helpdesk.photos.selectors import list_photos
from helpdesk.supply import notices, services, statements
from helpdesk.supply.models import Notice, Remark, RemarkKind, Statement, Subject
from helpdesk.supply.notices import NoticeWords
from helpdesk.supply.remarks import NewRemark, add_remark
from helpdesk.supply.services import SubjectFacts
from helpdesk.supply.statements import Asking

REVIEWER, PRODUCER = "imke", "wren"
KNOWN = datetime.timedelta(days=125)  # before the moment of loading, and before the oldest case
JUST_NOW = datetime.timedelta(minutes=5)
Row = Mapping[str, Any]


def load_subjects(now: datetime.datetime) -> None:
    """Write down who and what is spoken of, before the cases that name them come in."""
    for row in read_supply("subject"):
        known = _subjects()
        facts = {name: value for name, value in row.items() if name != "below"}
        wanted = SubjectFacts(**facts, parent=known[row["below"]] if "below" in row else None)
        same = Subject.objects.filter(kind=wanted.kind, parent=wanted.parent)
        if not same.filter(name=wanted.name).exists():
            with clock.standing_at(now - KNOWN):
                services.add_subject(wanted, actor=_person(REVIEWER))


def load_sayings(now: datetime.datetime) -> None:
    """Say of them what the demo says; what was said already is left as it is."""
    known = _subjects()
    for row in read_supply("statement"):
        _state(known[row["subject"]], row, now)
    for row in read_supply("correction"):
        _correct(known[row["subject"]], row, now)
    for row in read_supply("notice"):
        _give_notice(known[row["subject"]], row, now)


@transaction.atomic
def _state(subject: Subject, row: Row, now: datetime.datetime) -> None:
    """Write what will be said on a case and ask for a reply, which has not come yet."""
    case = _find_case(row["case"])
    if case is None or Statement.objects.filter(subject=subject, case=case).exists():
        return
    reviewer = _person(REVIEWER)
    at = min(case.opened_at + datetime.timedelta(hours=row["after_h"]), now - JUST_NOW)
    with clock.standing_at(at):
        statement = statements.write_statement(subject, case, row["text"], actor=reviewer)
        _show_and_ask(statement, case, row, reviewer)
        run_due_jobs()


@transaction.atomic
def _correct(subject: Subject, row: Row, now: datetime.datetime) -> None:
    """Put right what was said on a show."""
    place = {name: row[name] for name in ("episode_number", "second")}
    episode = Episode.objects.filter(number=row["episode_number"]).first()
    if episode is None or Remark.objects.filter(subject=subject, **place).exists():
        return
    at = min(episode.starts_at + datetime.timedelta(days=row["after_days"]), now - JUST_NOW)
    with clock.standing_at(at):
        new = NewRemark(
            kind=RemarkKind.CORRECTION,
            said=row["said"],
            text=row["text"],
            who=row["who"],
            on_date=clock.today(),
            **place,
        )
        add_remark(subject, new, actor=_person(REVIEWER))


@transaction.atomic
def _give_notice(subject: Subject, row: Row, now: datetime.datetime) -> None:
    """Draft a notice, ask about it, keep the reply, and let a producer make it public."""
    case = _find_case(row["case"])
    if case is None or Notice.objects.filter(subject=subject, title=row["title"]).exists():
        return
    reviewer = _person(REVIEWER)
    words = NoticeWords(**{n: row[n] for n in ("title", "text", "fault", "caution")})
    with clock.standing_at(_days_before(now, row["days_ago"])):
        notice = notices.make_notice(subject, words, actor=reviewer)
        services.link_case(subject, case, actor=reviewer)
        _show_and_ask(notice.statement, case, row, reviewer)
    with clock.standing_at(_days_before(now, row["reply_days_ago"])):
        said = NewRemark(text=row["reply"], who=row["reply_who"], on_date=clock.today())
        statements.record_reply(notice.statement, said, actor=reviewer)
    with clock.standing_at(_days_before(now, row["ready_days_ago"])):
        notices.make_ready(
            notice.pk, version=notice.version, has_looked=True, actor=_person(PRODUCER)
        )
        run_due_jobs()


def _show_and_ask(statement: Statement, case: Case, row: Row, actor: User) -> None:
    """Add the first photo of a case as evidence, and keep that the subject was asked."""
    statements.add_picture(statement, list_photos(case)[0], row["shows"], actor=actor)
    letter = f"We are about to say this, and ask you for your reply:\n\n{statement.text}"
    statements.ask_reply(statement, Asking(way=row["way"], to=row["to"], text=letter), actor=actor)


def _subjects() -> dict[str, Subject]:
    """Return all subjects by their full names."""
    every = Subject.objects.select_related("parent__parent")
    return {subject.full_name: subject for subject in every}


def _find_case(key: str) -> Case | None:
    """Return a case of the demo that still has its pictures, or None."""
    report = Report.objects.filter(submission_key=f"demo:{key}").select_related("case").first()
    if report is None or report.case.erased_at or not list_photos(report.case):
        return None
    return report.case


def _days_before(now: datetime.datetime, days: int) -> datetime.datetime:
    return now - datetime.timedelta(days=days)


def _person(username: str) -> User:
    return User.objects.get(username=username)
