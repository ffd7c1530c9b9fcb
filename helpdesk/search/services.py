"""Keeping the index true."""

from django.db import connection, transaction

from helpdesk.answers.models import Answer
from helpdesk.cases.models import Case, MessageKind
from helpdesk.core import clock
from helpdesk.diagnosis.models import Verdict
from helpdesk.search.models import SearchEntry
from helpdesk.search.selectors import END, START, latest_outcome

INDEXED_CHARS = 120_000  # PostgreSQL takes a megabyte of words for a row's three texts
NO_MARKS = str.maketrans({START: " ", END: " "})


@transaction.atomic
def index_case(case_id: int) -> None:
    """Write a case's searchable text anew, or take it out when the case is gone or erased."""
    case = Case.objects.filter(pk=case_id).first()
    if case is None or case.erased_at:
        gone, _ = SearchEntry.objects.filter(case_id=case_id).delete()
        if gone and connection.vendor == "sqlite":
            _merge_index()
        return
    stories = list(case.reports.values_list("story", flat=True))
    replies = case.messages.filter(kind=MessageKind.REPLY).values_list("body", flat=True)
    answers = Answer.objects.filter(case=case, sent_at__isnull=False)
    verdict = Verdict.objects.filter(case=case).order_by("position", "pk").first()
    SearchEntry.objects.update_or_create(
        case=case,
        defaults={
            "title": case.title.translate(NO_MARKS),
            "story": "\n".join([*stories, *replies]).translate(NO_MARKS)[:INDEXED_CHARS],
            "answer": "\n".join(answers.values_list("sent_text", flat=True)).translate(NO_MARKS)[
                :INDEXED_CHARS
            ],
            "fault": verdict.fault if verdict else case.top_fault,
            "machine": case.machine,
            "material": case.material,
            "outcome": latest_outcome(case),
            "indexed_at": clock.now(),
        },
    )


def _merge_index() -> None:
    """Merge the full-text index: FTS5 keeps words taken out until a merge drops them."""
    with connection.cursor() as cursor:
        cursor.execute("INSERT INTO search_words(search_words) VALUES ('optimize')")
