"""What of a case its person gets a copy of: words, facts, consent, photos, files, letters."""

from typing import Any

from helpdesk.answers.models import Answer
from helpdesk.cases.models import Case, ConsentRecord, Event, Message, MessageKind, Report
from helpdesk.cases.services import FACT_FIELDS
from helpdesk.cases.wordings import find_wording
from helpdesk.diagnosis.selectors import list_verdicts
from helpdesk.keeping.exports import CopiedFile, CopyPart, exporter, file_name, text_file
from helpdesk.outbox.models import OutgoingMail
from helpdesk.outbox.selectors import Letter
from helpdesk.people.models import Person
from helpdesk.photos.models import photo_storage
from helpdesk.printfiles.models import CaseFile, file_storage
from helpdesk.supply.models import EvidencePicture, Statement
from helpdesk.supply.selectors import WITH_SUBJECT

USES = ("answer", "photos", "name")


@exporter("case")
def copy_case(case: Case) -> CopyPart:
    """Return the case itself, who it is from and what was said of it."""
    return CopyPart(
        {
            "title": case.title,
            "state": case.state,
            "opened_at": case.opened_at.isoformat(),
            "closed_at": case.closed_at.isoformat() if case.closed_at else None,
            "channel": case.channel,
            "facts": {name: getattr(case, name) for name in FACT_FIELDS if name != "title"},
            "sent_by": {
                "name": case.person_name,
                "email": case.email,
                "handle": case.handle,
                "handle_where": case.handle_where,
                "answer_by": case.reply_channel,
                "is_own_print": case.is_own_print,
                "is_under_16": case.is_under_16,
            },
            "owner": {"name": case.owner_name, "link": case.owner_link},
            "suspected": case.top_fault,
            "confirmed": [verdict.fault for verdict in list_verdicts(case)],
            "danger": case.danger_name,
        }
    )


@exporter("reports")
def copy_reports(case: Case) -> CopyPart:
    """Return what was sent, word for word."""
    return CopyPart([_report(report) for report in case.reports.all()])


@exporter("messages")
def copy_messages(case: Case) -> CopyPart:
    """Return what was said since, without the notes between reviewers."""
    spoken = case.messages.exclude(kind=MessageKind.NOTE)
    return CopyPart([_message(message) for message in spoken])


@exporter("answers")
def copy_answers(case: Case) -> CopyPart:
    """Return the answers that went out, and what is published of them."""
    sent = case.answers.filter(sent_at__isnull=False).order_by("sent_at")
    return CopyPart([_answer(answer) for answer in sent])


@exporter("outcomes")
def copy_outcomes(case: Case) -> CopyPart:
    """Return what became of the print."""
    return CopyPart(
        [
            {"at": o.said_at.isoformat(), "result": o.result, "step": o.remedy, "words": o.words}
            for o in case.outcomes.all()
        ]
    )


@exporter("consents")
def copy_consents(case: Case) -> CopyPart:
    """Return each consent with the very words that were agreed to."""
    return CopyPart([_consent(record) for record in case.consents.all()])


@exporter("shown")
def copy_appearances(case: Case) -> CopyPart:
    """Return where the print was shown."""
    return CopyPart(
        [
            {
                "episode": a.episode_number,
                "title": a.episode_title,
                "on": a.on_date.isoformat(),
                "second": a.starts_at_s,
                "link": a.link,
            }
            for a in case.appearances.order_by("episode_number")
        ]
    )


@exporter("photos")
def copy_photos(case: Case) -> CopyPart:
    """Return the photos, with the files as sent where they were kept."""
    rows: list[dict[str, Any]] = []
    files: list[CopiedFile] = []
    for place, photo in enumerate(case.photos.all(), start=1):
        row = {
            "label": photo.label,
            "description": photo.alt_text,
            "received_at": photo.received_at.isoformat(),
            "file": None,
            "original": None,
        }
        for key, size, label in (("file", "web", "photo.jpg"), ("original", "original", "")):
            stored = getattr(photo, size).name
            if stored:
                row[key] = file_name(case, f"{key}s", place, label or photo.label)
                files.append(_photo_file(str(row[key]), stored))
        rows.append(row)
    return CopyPart(rows, files)


@exporter("files")
def copy_files(case: Case) -> CopyPart:
    """Return print files, models and settings as they were sent."""
    rows, files = [], []
    for place, stored in enumerate(case.files.all(), start=1):
        name = file_name(case, "print-files", place, stored.label)
        rows.append(
            {
                "label": stored.label,
                "kind": stored.kind,
                "format": stored.format,
                "received_at": stored.received_at.isoformat(),
                "sha256": stored.sha256,
                "file": name,
            }
        )
        files.append(_case_file(name, stored))
    return CopyPart(rows, files)


@exporter("letters")
def copy_letters(case: Case) -> CopyPart:
    """Return the desk's letters to the person."""
    rows, files = [], []
    letters = OutgoingMail.objects.filter(case=case).order_by("created_at", "pk")
    for place, mail in enumerate(letters, start=1):
        name = file_name(case, "letters", place, f"{mail.kind}.txt")
        rows.append(
            {
                "kind": mail.kind,
                "to": mail.to,
                "subject": mail.subject,
                "written_at": mail.created_at.isoformat(),
                "sent_at": mail.sent_at.isoformat() if mail.sent_at else None,
                "file": name,
            }
        )
        files.append(text_file(name, f"{mail.subject}\n\n{Letter(mail, '').masked_text}\n"))
    return CopyPart(rows, files)


@exporter("statements")
def copy_statements(case: Case) -> CopyPart:
    """Return what will be said of makers on the case, and what their photos are to show of it."""
    rows = [
        {
            "of": statement.subject.full_name,
            "words": statement.text,
            "written_at": statement.written_at.isoformat(),
        }
        for statement in Statement.objects.filter(case=case).select_related(*WITH_SUBJECT)
    ]
    pictures = EvidencePicture.objects.filter(photo__case=case).select_related("photo")
    shown = [{"photo": each.photo.label, "shows": each.shows} for each in pictures]
    return CopyPart({"statements": rows, "pictures": shown})


@exporter("history")
def copy_history(case: Case) -> CopyPart:
    """Return what was done with the case and when; who of the desk did it is not said."""
    return CopyPart([_event(event) for event in case.events.order_by("at", "pk")])


def describe_person(person: Person) -> dict[str, Any]:
    """Return what the desk knows of a person beside their cases."""
    return {
        "name": person.name,
        "said_as": person.said_as,
        "credit_wish": person.credit_kind,
        "notes": person.notes,
        "contacts": [
            {"kind": c.kind, "value": c.value, "place": c.place, "verified": c.verified}
            for c in person.contacts.all()
        ],
    }


def _report(report: Report) -> dict[str, Any]:
    return {
        "received_at": report.received_at.isoformat(),
        "channel": report.channel,
        "story": report.story,
        "as_sent": report.facts,
        "link": report.link,
    }


def _message(message: Message) -> dict[str, Any]:
    return {
        "kind": message.kind,
        "at": message.sent_at.isoformat(),
        "channel": message.channel,
        "from": message.author_name,
        "words": message.body,
        "questions": message.questions,
    }


def _answer(answer: Answer) -> dict[str, Any]:
    return {
        "sent_at": answer.sent_at.isoformat() if answer.sent_at else None,
        "channel": answer.sent_via,
        "words": answer.sent_text,
        "published": (
            {"title": answer.published_title, "words": answer.published_body}
            if answer.published_at
            else None
        ),
    }


def _consent(record: ConsentRecord) -> dict[str, Any]:
    wording = find_wording(record.wording)
    return {
        "at": record.given_at.isoformat(),
        "by": record.given_by,
        "answer": record.may_publish_answer,
        "photos": record.may_show_photos,
        "name": {"how": record.credit_kind, "as": record.credit_as},
        "is_under_16": record.is_under_16,
        "guardian_agreed": record.guardian_agreed,
        "wording": record.wording,
        "words_asked": {use: wording.asked(use) for use in USES} if wording else None,
        "words_said": record.quote,
        "said_where": record.quote_where,
    }


def _event(event: Event) -> dict[str, Any]:
    return {"at": event.at.isoformat(), "what": event.what, "why": event.why}


def _photo_file(name: str, stored: str) -> CopiedFile:
    return CopiedFile(name=name, open=lambda: photo_storage().open(stored))


def _case_file(name: str, row: CaseFile) -> CopiedFile:
    stored = str(row.file.name)
    return CopiedFile(name=name, open=lambda: file_storage().open(stored), is_packed=True)
