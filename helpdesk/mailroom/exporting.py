"""What a person gets a copy of from the mailroom: the letters that came about their case."""

from helpdesk.cases.models import Case
from helpdesk.keeping.exports import CopiedFile, CopyPart, exporter, file_name
from helpdesk.mailroom.models import IncomingMail, letter_storage


@exporter("letters_in")
def copy_letters_in(case: Case) -> CopyPart:
    """Return the letters to the desk, as they came."""
    rows, files = [], []
    letters = IncomingMail.objects.filter(case=case).order_by("received_at", "pk")
    for place, mail in enumerate(letters, start=1):
        name = file_name(case, "letters-in", place, "letter.eml") if mail.file else None
        rows.append(
            {
                "from": mail.sender,
                "subject": mail.subject,
                "received_at": mail.received_at.isoformat(),
                "file": name,
            }
        )
        if name:
            files.append(_letter_file(name, str(mail.file.name)))
    return CopyPart(rows, files)


def _letter_file(name: str, stored: str) -> CopiedFile:
    return CopiedFile(name=name, open=lambda: letter_storage().open(stored), is_packed=True)
