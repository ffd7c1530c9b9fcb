"""A table becomes cases: looked at first, each row once, refusals with reasons."""

import threading
from collections.abc import Iterator
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.db import connection
from django.test import TestCase

from helpdesk.accounts.models import User
from helpdesk.answers.models import Answer
from helpdesk.capture import imports
from helpdesk.capture.imports import (
    import_some,
    keep_table,
    look_at_table,
    purge_old_tables,
    set_plan,
    start_import,
)
from helpdesk.capture.models import ImportState, RefusedRow, TableImport, table_storage
from helpdesk.cases.models import Case, CaseState, ConsentRecord, Outcome, QueueRank, Report
from helpdesk.core.jobs import run_due_jobs, run_job
from helpdesk.core.models import Job
from helpdesk.diagnosis.engine import fault_info
from helpdesk.diagnosis.models import Verdict
from helpdesk.intake.services import erase
from helpdesk.outbox.models import OutgoingMail
from helpdesk.search.models import SearchEntry

pytestmark = pytest.mark.django_db
OLD = """Date,Printer,Description,Name,E-mail,Answer,Fault,Outcome,Mood
2025-03-04,Tern 220,The corners lift.,Ansa,a@tarnstreet.example,Clean the plate.,belt-loose,yes,glad
2025-03-05,Corvid C1,A seam as thick as a nail.,,,,,,
2025-03-06,Siskin R4,,Bettine,,,,,
2999-01-01,Tern 220,It comes from the future.,,,,,,
2025-03-07,Tern 220,Whiskers everywhere.,,nobody,,,,
2025-03-08,Tern 220,Whiskers everywhere.,,,,no-such-fault,,
2025-03-09,Tern 220,Whiskers everywhere.,,,,,perhaps,
"""


def keep(text: str | bytes, actor: User | None = None, **chosen: str) -> TableImport:
    """Keep a table."""
    data = text if isinstance(text, bytes) else text.encode()
    return keep_table(ContentFile(data, name="old.csv"), label="old.csv", actor=actor, **chosen)


def bring_in(table: TableImport) -> TableImport:
    """Bring a table in to its end."""
    start_import(table.pk, look=look_at_table(table))
    while import_some(table.pk):
        pass
    table.refresh_from_db()
    return table


def test_look_says_what_would_happen_and_writes_nothing(reviewer: User) -> None:
    look = look_at_table(keep(OLD, reviewer))

    assert (look.new, look.known, look.refused) == (2, 0, 5)
    assert [(each.row.line, each.what) for each in look.shown] == [
        (2, "new"),
        (3, "new"),
        (4, "refused"),
        (5, "refused"),
        (6, "refused"),
        (7, "refused"),
        (8, "refused"),
    ]
    why = " ".join(each.why for each in look.shown)
    for words in ("no words", "not come yet", "no e-mail", "no-such-fault", "perhaps"):
        assert words in why
    assert not Case.objects.exists()
    assert not RefusedRow.objects.exists()


def test_old_case_becomes_searchable_and_nobody_is_written_to(reviewer: User) -> None:
    bring_in(keep(OLD, reviewer))

    case = Case.objects.get(machine="Tern 220")
    assert f"{case.opened_at:%Y-%m-%d}" == "2025-03-04"
    assert (case.state, case.queue_rank) == (CaseState.CLOSED, QueueRank.CLOSED)
    assert case.follow_up_on is None
    assert Verdict.objects.get(case=case).fault == "belt-loose"
    assert Answer.objects.get(case=case).sent_text == "Clean the plate."
    assert Outcome.objects.get(case=case).result == "worked"
    assert case.reports.get().facts["Mood"] == "glad"
    assert not ConsentRecord.objects.filter(may_publish_answer=True).exists()
    run_due_jobs()
    entry = SearchEntry.objects.get(case=case)
    assert (entry.answer, entry.fault, entry.outcome) == (
        "Clean the plate.",
        "belt-loose",
        "worked",
    )
    assert not OutgoingMail.objects.exists()
    assert not Job.objects.filter(kind="announce-event", payload__event__in=_old_events()).exists()


def _old_events() -> list[int]:
    return list(Case.objects.get(machine="Tern 220").events.values_list("pk", flat=True))


def test_case_without_an_answer_waits_since_it_was_told(reviewer: User) -> None:
    bring_in(keep(OLD, reviewer))

    case = Case.objects.get(machine="Corvid C1")
    assert case.state == CaseState.RECEIVED
    assert f"{case.waiting_since:%Y-%m-%d}" == "2025-03-05"


def test_same_table_again_makes_nothing_twice(reviewer: User) -> None:
    bring_in(keep(OLD, reviewer))
    again = bring_in(keep(OLD, reviewer))

    assert (again.made, again.known, again.refused) == (0, 2, 5)
    assert Case.objects.count() == 2


def test_later_copy_brings_in_what_is_new_though_columns_moved(reviewer: User) -> None:
    bring_in(keep("Story,Printer\nThe corners lift.,Tern 220\n", reviewer))
    later = "Printer,Story,Notes\nTern 220,The corners lift.,\nCorvid C1,A seam shows.,\n"

    table = bring_in(keep(later, reviewer))

    assert (table.made, table.known) == (1, 1)


def test_rows_alike_in_one_table_are_cases_of_their_own(reviewer: User) -> None:
    table = bring_in(keep("Story\nThe corners lift.\nThe corners lift.\n", reviewer))

    assert table.made == 2


def test_erased_row_does_not_come_back(reviewer: User) -> None:
    bring_in(keep(OLD, reviewer))
    erase(Case.objects.get(machine="Tern 220").pk)

    again = bring_in(keep(OLD, reviewer))

    assert again.made == 0
    assert not Report.objects.filter(story__contains="corners").exists()


def test_finished_table_leaves_no_file_and_only_refused_rows(reviewer: User) -> None:
    table = keep(OLD, reviewer)
    name = str(table.file.name)
    assert table_storage().exists(name)

    with TestCase.captureOnCommitCallbacks(execute=True):
        table = bring_in(table)

    assert (table.state, table.file.name) == (ImportState.DONE, "")
    assert not table_storage().exists(name)
    assert list(table.refused_rows.values_list("line", flat=True)) == [4, 5, 6, 7, 8]


def test_import_goes_on_where_it_was_killed(
    reviewer: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = keep("Story\n" + "".join(f"Print {n} lifts.\n" for n in range(90)), reviewer)
    start_import(table.pk, look=look_at_table(table))
    calls: Iterator[int] = iter(range(10_000))
    take = imports._take_row

    def die_once(*args: Any) -> str:
        if next(calls) == 60:
            raise KeyboardInterrupt
        return take(*args)

    monkeypatch.setattr(imports, "_take_row", die_once)
    with pytest.raises(KeyboardInterrupt):
        import_some(table.pk)
    table.refresh_from_db()
    assert (table.position, Case.objects.count()) == (50, 50)

    while import_some(table.pk):
        pass

    table.refresh_from_db()
    assert (table.made, table.known, table.state) == (90, 0, "done")
    assert Report.objects.values("story").distinct().count() == 90


def test_worker_brings_a_table_in_by_jobs(reviewer: User) -> None:
    table = keep("Story\n" + "".join(f"Print {n} lifts.\n" for n in range(510)), reviewer)
    start_import(table.pk, look=look_at_table(table))

    while Job.objects.filter(kind="import-table", state="waiting").exists():
        for job in Job.objects.filter(kind="import-table", state="waiting"):
            run_job(job.pk)

    table.refresh_from_db()
    assert (table.made, table.state) == (510, "done")
    assert Job.objects.filter(kind="import-table").count() == 3


@pytest.mark.django_db(transaction=True)
def test_two_workers_at_once_take_each_row_once(reviewer: User) -> None:
    table = keep("Story\n" + "".join(f"Print {n} lifts.\n" for n in range(120)), reviewer)
    start_import(table.pk, look=look_at_table(table))

    def work() -> None:
        try:
            while import_some(table.pk):
                pass
        finally:
            connection.close()

    workers = [threading.Thread(target=work) for _ in range(3)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    while import_some(table.pk):
        pass

    table.refresh_from_db()
    assert (table.made, table.known, Case.objects.count()) == (120, 0, 120)


def test_dates_with_two_meanings_are_asked(reviewer: User) -> None:
    table = keep("Date,Story\n03/04/2025,The corners lift.\n", reviewer)
    assert "choose" in look_at_table(table).problems[0]

    set_plan(table, columns=table.columns, date_order="mdy", channel="chat")
    bring_in(table)

    case = Case.objects.get()
    assert f"{case.opened_at:%Y-%m-%d}" == "2025-03-04"
    assert case.channel == "chat"


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("Story,Nozzle\nIt lifts.,wide\n", "nozzle’s width"),
        ("Story,Process\nIt lifts.,knitting\n", "knitting"),
        ("Story,Channel\nIt lifts.,pigeon\n", "pigeon"),
        ("Story,State\nIt lifts.,asleep\n", "asleep"),
        ("Story,Link\nIt lifts.,javascript:alert(1)\n", "web page"),
        ("Story,Printer\nIt lifts.," + "T" * 81 + "\n", "81 characters"),
        ("Story,Answer\nIt lifts.,Clean it.\n", "no date"),
        ("Story,Date,Answered\nIt lifts.,2025-03-04,2025-03-03\n", "before the report"),
        ("Story\n" + "w" * 50_001 + "\n", "50,001 characters"),
        ("Story\n!!!\n", "no words"),
    ],
)
def test_cell_that_does_not_fit_is_refused_with_the_reason(
    reviewer: User, text: str, why: str
) -> None:
    table = bring_in(keep(text, reviewer))

    assert why in table.refused_rows.get().why
    assert not Case.objects.exists()


def test_names_of_faults_and_several_of_them_are_known(reviewer: User) -> None:
    title = fault_info("belt-loose").name.upper()
    bring_in(keep(f"Story,Fault\nIt lifts.,{title}; pulley-loose\n", reviewer))

    faults = Verdict.objects.order_by("position").values_list("fault", flat=True)
    assert list(faults) == ["belt-loose", "pulley-loose"]


def test_owner_is_kept_apart_from_the_finder(reviewer: User) -> None:
    bring_in(keep("Story,Name,Owner\nIt lifts.,Teo,Ansa\n", reviewer))

    case = Case.objects.get()
    assert (case.person_name, case.owner_name, case.is_own_print) == ("Teo", "Ansa", False)


def test_old_drafts_go_with_their_files(reviewer: User) -> None:
    table = keep(OLD, reviewer)
    TableImport.objects.update(made_at=table.made_at - imports.DRAFT_LIFE * 2)

    purge_old_tables()

    assert not TableImport.objects.exists()
