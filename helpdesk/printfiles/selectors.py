"""Reading the files of a case."""

from helpdesk.cases.models import Case
from helpdesk.printfiles.models import CaseFile


def list_files(case: Case) -> list[CaseFile]:
    """Return a case's files that are no photos, in the order they came."""
    return list(case.files.all())
