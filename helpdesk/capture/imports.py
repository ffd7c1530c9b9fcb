"""Bring a table in: keep its file, look at what would happen, then take row after row, once each.

A row's key names its cells, so neither a crash nor the same table a second time makes a case twice.
The place reached is written in the transaction that takes the rows before it.
"""

import datetime
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import islice
from typing import IO, cast

from django.core.exceptions import ValidationError
from django.core.files.base import File
from django.db import DataError, transaction

from helpdesk.accounts.models import User
from helpdesk.answers.past import keep_past_answer
from helpdesk.capture.columns import SAMPLE_ROWS, STORY, propose_columns
from helpdesk.capture.dates import DateOrder, find_order
from helpdesk.capture.models import ImportState, RefusedRow, TableImport, table_storage
from helpdesk.capture.rows import RefusedRowError, RowPlan, RowReport, read_row, row_key
from helpdesk.capture.sheets import Layout, SheetRow, read_layout, read_rows
from helpdesk.cases.models import Case, CaseState, Report
from helpdesk.cases.services import change_state, open_case, record_event, record_outcome
from helpdesk.core import clock
from helpdesk.core.errors import DeskError, RefusedInputError, WrongStateError
from helpdesk.core.http import storable
from helpdesk.core.jobs import start_job
from helpdesk.core.storage import clean_label, delete_files, new_name, purge_strays
from helpdesk.diagnosis.services import set_verdict

BATCH = 25  # rows of one transaction: under a second of writing, so that the desk goes on
ROWS_A_JOB = 250  # so that new reports need not wait behind a whole table
KEYS_AT_ONCE = 500
SHOWN = 40  # rows of each kind a look lists
LABEL_CHARS = 120
DRAFT_LIFE = datetime.timedelta(hours=24)
REFUSED_LIFE = datetime.timedelta(days=30)
DATES = ("opened_at", "answered_at")
NO_STORY = "Please say which column holds what happened."
TWICE = "“{}” is chosen for more than one column."
ASK_ORDER = (
    "The dates can be read in two ways, or some begin with the day and some with the month. "
    "Please choose."
)
NO_ROWS = "There is a header but no row below it."


@dataclass(frozen=True)
class LookedAt:
    """What would become of one row."""

    row: SheetRow
    what: str  # new, known or refused
    why: str = ""
    title: str = ""


@dataclass
class Look:
    """What would become of a table: counts, and the first rows of each kind."""

    new: int = 0
    known: int = 0
    refused: int = 0
    shown: list[LookedAt] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    order: DateOrder | None = None

    @property
    def rows(self) -> int:
        """Return how many rows there are."""
        return self.new + self.known + self.refused

    def add(self, looked: LookedAt) -> None:
        """Count a row, and keep it to be shown while there is room."""
        setattr(self, looked.what, getattr(self, looked.what) + 1)
        if getattr(self, looked.what) <= SHOWN:
            self.shown.append(looked)


def keep_table(
    file: "File[bytes]",
    *,
    label: str,
    actor: User | None,
    encoding: str = "",
    delimiter: str = "",
) -> TableImport:
    """Keep a table with a proposal of what its columns are; raises RefusedInputError."""
    content = cast("IO[bytes]", file)
    layout = read_layout(content, encoding=encoding, delimiter=delimiter)
    sample = [row.cells for row in islice(read_rows(content, layout), SAMPLE_ROWS) if row.cells]
    if not sample:
        raise RefusedInputError(NO_ROWS)
    file.seek(0)
    storage = table_storage()
    name = storage.save(new_name("csv"), file)
    try:
        return TableImport.objects.create(
            label=clean_label(label, limit=LABEL_CHARS),
            file=name,
            made_by=actor,
            made_at=clock.now(),
            columns=list(propose_columns(layout.header, sample)),
            **_layout_values(layout),
        )
    except BaseException:  # whatever happened, no file may stay without its row
        storage.delete(name)
        raise


def read_again(table: TableImport, *, encoding: str, delimiter: str) -> TableImport:
    """Read a table another way than was found out; raises RefusedInputError."""
    _check_draft(table)
    with _opened(table) as file:
        layout = read_layout(file, encoding=encoding, delimiter=delimiter)
        sample = [row.cells for row in islice(read_rows(file, layout), SAMPLE_ROWS) if row.cells]
    for name, value in _layout_values(layout).items():
        setattr(table, name, value)
    table.columns = list(propose_columns(layout.header, sample))
    table.save()
    return table


def set_plan(
    table: TableImport, *, columns: Sequence[str], date_order: str, channel: str
) -> TableImport:
    """Keep what the columns are."""
    _check_draft(table)
    table.columns, table.date_order, table.channel = list(columns), date_order, channel
    table.save(update_fields=["columns", "date_order", "channel"])
    return table


def look_at_table(table: TableImport) -> Look:
    """Return what would become of every row; nothing is written."""
    look = Look(problems=_find_problems(table.columns))
    look.order = _order(table)
    if look.order == DateOrder.ASK:
        look.problems.append(ASK_ORDER)
    if look.problems:
        return look
    with _opened(table) as file:
        plan = _plan(table, look.order)
        for keyed in _in_groups(_keyed_rows(table, file)):
            there = _known_keys(key for key, _ in keyed)
            for key, row in keyed:
                look.add(_look_at_row(row, key, plan, is_known=key in there))
    if not look.rows:
        look.problems.append(NO_ROWS)
    return look


@transaction.atomic
def start_import(table_id: int, *, look: Look) -> TableImport:
    """Begin to bring a table in as it was looked at; raises WrongStateError when it has begun."""
    table = TableImport.objects.select_for_update().get(pk=table_id)
    _check_draft(table)
    if look.problems:
        raise RefusedInputError(look.problems[0])
    table.state = ImportState.RUNNING
    table.rows = look.rows
    table.date_order = look.order or ""
    table.save()
    _go_on(table)
    return table


def import_some(table_id: int, *, most: int = ROWS_A_JOB) -> bool:
    """Take the next rows of a running table; return True when there may be more.

    Safe to run twice and side by side: whoever finds that others took the rows leaves them.
    """
    table = TableImport.objects.filter(pk=table_id, state=ImportState.RUNNING).first()
    if table is None:
        return False
    plan = _plan(table, DateOrder(table.date_order) if table.date_order else None)
    with _opened(table) as file:
        rows = islice(_keyed_rows(table, file), table.position, None)
        for taken in range(BATCH, most + BATCH, BATCH):
            batch = list(islice(rows, BATCH))
            is_last = len(batch) < BATCH
            if not _take_batch(table, batch, plan, is_last=is_last, goes_on=taken >= most):
                return False
    return True


def list_refused(table: TableImport) -> tuple[list[str], Iterator[list[str | int]]]:
    """Return header and rows of the table of what was refused, each with line and reason."""
    header = ["Line", "Reason", *table.header]
    rows = table.refused_rows.all().iterator()
    return header, ([row.line, row.why, *row.cells] for row in rows)


@transaction.atomic
def drop_draft(table: TableImport) -> None:
    """Remove a table that was only looked at, with its file; others stay."""
    found = TableImport.objects.filter(pk=table.pk, state=ImportState.DRAFT).first()
    if found:
        delete_files(table_storage(), [found.file.name])
        found.delete()


def purge_old_tables() -> int:
    """Remove tables that were never brought in, and refused rows after a month; return how many."""
    now = clock.now()
    drafts = TableImport.objects.filter(state=ImportState.DRAFT, made_at__lt=now - DRAFT_LIFE)
    for table in drafts[:100]:
        drop_draft(table)
    old = RefusedRow.objects.filter(table__finished_at__lt=now - REFUSED_LIFE)
    return old.delete()[0]


def purge_stray_files() -> int:
    """Delete old files that no table names, in one of the folders; return how many."""
    return purge_strays(
        table_storage(),
        lambda names: set(
            TableImport.objects.filter(file__in=names).values_list("file", flat=True)
        ),
    )


@contextmanager
def _opened(table: TableImport) -> Iterator[IO[bytes]]:
    """Give a table's file."""
    with table_storage().open(str(table.file.name)) as file:
        yield cast("IO[bytes]", file)


def _layout_values(layout: Layout) -> dict[str, object]:
    return {
        "encoding": layout.encoding,
        "delimiter": layout.delimiter,
        "header": list(layout.header),
        "remarks": list(layout.remarks),
    }


def _check_draft(table: TableImport) -> None:
    if table.state != ImportState.DRAFT:
        raise WrongStateError("This table is being brought in already.")


def _layout_of(table: TableImport) -> Layout:
    return Layout(table.encoding, table.delimiter, table.header)


def _plan(table: TableImport, order: DateOrder | None) -> RowPlan:
    return RowPlan(
        header=table.header, columns=table.columns, date_order=order, channel=table.channel
    )


def _find_problems(columns: Sequence[str]) -> list[str]:
    """Return what has to be settled before any row can be looked at."""
    counts = Counter(filter(None, columns))
    problems = [TWICE.format(name) for name, count in counts.items() if count > 1]
    return problems if STORY in counts else [NO_STORY, *problems]


def _order(table: TableImport) -> DateOrder | None:
    """Return what dates begin with: as chosen, or as the values say, or ASK."""
    if table.date_order:
        return DateOrder(table.date_order)
    places = [place for place, target in enumerate(table.columns) if target in DATES]
    if not places:
        return None
    with _opened(table) as file:
        rows = read_rows(file, _layout_of(table))
        return find_order(row.cells[place] for row in rows if not row.trouble for place in places)


def _keyed_rows(table: TableImport, file: IO[bytes]) -> Iterator[tuple[str, SheetRow]]:
    """Yield each row with its key."""
    seen: Counter[bytes] = Counter()
    for row in read_rows(file, _layout_of(table)):
        yield ("" if row.trouble else row_key(table.header, row.cells, seen)), row


def _in_groups(
    rows: Iterator[tuple[str, SheetRow]],
) -> Iterator[list[tuple[str, SheetRow]]]:
    while group := list(islice(rows, KEYS_AT_ONCE)):
        yield group


def _known_keys(keys: Iterable[str]) -> set[str]:
    """Return those of the keys that a report has."""
    wanted = list(filter(None, keys))
    found = Report.objects.filter(submission_key__in=wanted)
    return set(found.values_list("submission_key", flat=True))


def _look_at_row(row: SheetRow, key: str, plan: RowPlan, *, is_known: bool) -> LookedAt:
    if row.trouble:
        return LookedAt(row, "refused", row.trouble)
    if is_known:
        return LookedAt(row, "known", "This row is in the desk already.")
    try:
        report = read_row(row.cells, key, plan)
    except RefusedRowError as error:
        return LookedAt(row, "refused", str(error))
    return LookedAt(row, "new", row.remark, report.new.title or report.new.story[:80])


@transaction.atomic
def _take_batch(
    table: TableImport,
    batch: Sequence[tuple[str, SheetRow]],
    plan: RowPlan,
    *,
    is_last: bool,
    goes_on: bool,
) -> bool:
    """Take some rows; False when that was the end, or somebody else was here."""
    locked = TableImport.objects.select_for_update().get(pk=table.pk)
    if locked.state != ImportState.RUNNING or locked.position != table.position:
        return False
    for key, row in batch:
        what = _take_row(locked, key, row, plan)
        setattr(locked, what, getattr(locked, what) + 1)
    locked.position += len(batch)
    if is_last:
        _finish(locked)
    elif goes_on:
        _go_on(locked)
    locked.save()
    table.position = locked.position
    return not is_last


def _take_row(table: TableImport, key: str, row: SheetRow, plan: RowPlan) -> str:
    """Make a case of a row; return which counter it belongs to."""
    why = row.trouble
    if not why:
        try:
            with transaction.atomic():
                report = read_row(row.cells, key, plan)
                return "made" if _open(report, table) else "known"
        except ValidationError as error:
            why = " ".join(error.messages)
        except (RefusedRowError, DeskError, DataError) as error:
            why = str(error)
    RefusedRow.objects.get_or_create(
        table=table,
        number=row.number,
        defaults={"line": row.line, "cells": [storable(cell) for cell in row.cells], "why": why},
    )
    return "refused"


def _open(report: RowReport, table: TableImport) -> bool:
    """Open a case with all that a row says of it; False when the row is known."""
    case, is_new = open_case(report.new, at=report.opened_at)
    if not is_new:
        return False
    actor = table.made_by
    what = f"Brought in from a table: {table.label}"
    record_event(case, kind="entered", what=what, actor=actor)
    if report.faults and actor:
        set_verdict(case, report.faults, actor=actor)
    if report.answer and report.answered_at:
        via = report.new.reply_channel
        keep_past_answer(case, report.answer, at=report.answered_at, via=via, actor=actor)
    if report.outcome:
        at = report.answered_at or case.opened_at
        record_outcome(case, result=report.outcome, words=report.outcome_words, actor=actor, at=at)
    _settle(case, report, actor)
    return True


def _settle(case: Case, report: RowReport, actor: User | None) -> None:
    """Leave a case as the row says; one that was answered once is closed unless it says more."""
    case.refresh_from_db()
    wanted = report.state or (CaseState.CLOSED if report.answer else "")
    if wanted == CaseState.CLOSED and case.state != CaseState.CLOSED:
        at = report.answered_at or case.opened_at
        change_state(case, CaseState.CLOSED, actor=actor, why="Brought in as finished", at=at)


def _go_on(table: TableImport) -> None:
    """Plan the next rows as a job of their own."""
    start_job(
        "import-table",
        key=f"import-table:{table.pk}:{table.position}",
        payload={"table": table.pk},
    )


def _finish(table: TableImport) -> None:
    """Close a table: what people wrote stands in the cases now, so the file goes."""
    table.state = ImportState.DONE
    table.finished_at = clock.now()
    delete_files(table_storage(), [table.file.name])
    table.file.name = ""
