"""Bring reports in from a table on this machine."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.files.base import File
from django.core.management.base import BaseCommand, CommandError

from helpdesk.accounts.models import User
from helpdesk.accounts.roles import RUN_DESK
from helpdesk.capture.columns import LEAVE_OUT, TARGETS
from helpdesk.capture.imports import (
    Look,
    drop_draft,
    import_some,
    keep_table,
    list_refused,
    look_at_table,
    set_plan,
    start_import,
)
from helpdesk.capture.models import TableImport
from helpdesk.capture.sheets import DELIMITERS, ENCODINGS
from helpdesk.cases.models import Channel
from helpdesk.core.errors import DeskError
from helpdesk.core.tables import write_table

USAGE, REFUSED = 2, 1
SIGNS = {name.split()[0]: sign for sign, name in DELIMITERS.items()}


class Command(BaseCommand):
    """Bring reports in from a table; exit 1 when a row was refused, 2 when nothing could begin."""

    help = "Bring reports in from a CSV or TSV file; the same row never makes two cases."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take the file and what could not be found out."""
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--map",
            action="append",
            default=[],
            metavar="HEADER=WHAT",
            help=f"what a column is, empty to leave it out; one of {', '.join(TARGETS)}",
        )
        parser.add_argument(
            "--dry-run", action="store_true", help="make nothing, say what would be"
        )
        parser.add_argument("--encoding", choices=list(ENCODINGS), default="")
        parser.add_argument("--delimiter", choices=list(SIGNS), default="")
        parser.add_argument("--date-order", choices=["dmy", "mdy"], default="")
        parser.add_argument("--channel", choices=Channel.values, default=Channel.OTHER.value)
        parser.add_argument("--by", default="", help="who brings it in; else who runs the desk")
        parser.add_argument("--refused", type=Path, help="where to write the refused rows")

    def handle(self, *args: Any, **options: Any) -> None:
        """Look, and unless it is a dry run bring in."""
        table = None
        try:
            table = self._keep(options)
            look = look_at_table(table)
            self._say(table, look)
            if look.problems:
                raise CommandError(" ".join(look.problems), returncode=USAGE)
            refused = look.refused
            if not options["dry_run"]:
                refused = self._bring_in(table, look, options["refused"])
        except DeskError as error:
            raise CommandError(str(error), returncode=USAGE) from error
        finally:
            if table is not None:
                drop_draft(table)
        if refused:
            raise CommandError(f"{refused} rows were refused.", returncode=REFUSED)

    def _keep(self, options: dict[str, Any]) -> TableImport:
        """Keep the file with what the options say of it."""
        path: Path = options["file"]
        actor = _find_actor(options["by"])
        try:
            with path.open("rb") as content:
                table = keep_table(
                    File(content, name=path.name),
                    label=path.name,
                    actor=actor,
                    encoding=options["encoding"],
                    delimiter=SIGNS.get(options["delimiter"], ""),
                )
        except OSError as error:
            raise CommandError(
                f"{path} cannot be read: {error.strerror}", returncode=USAGE
            ) from None
        try:
            columns = _mapped(table, options["map"])
        except CommandError:
            drop_draft(table)
            raise
        return set_plan(
            table,
            columns=columns,
            date_order=options["date_order"],
            channel=options["channel"],
        )

    def _say(self, table: TableImport, look: Look) -> None:
        """Print how the table is read and what would become of its rows."""
        parted = DELIMITERS[table.delimiter]
        self.stdout.write(f"Characters: {ENCODINGS[table.encoding]}; cells parted by: {parted}")
        for remark in table.remarks:
            self.stderr.write(remark)
        for header, target in zip(table.header, table.columns, strict=True):
            label = TARGETS[target].label if target else "left beside the report"
            self.stdout.write(f"  {header}: {label}")
        for looked in look.shown:
            if looked.what == "refused":
                self.stderr.write(f"line {looked.row.line}: {looked.why}")
        self.stdout.write(f"{look.new} new, {look.known} known already, {look.refused} refused")

    def _bring_in(self, table: TableImport, look: Look, target: Path | None) -> int:
        """Take every row and return how many were refused."""
        start_import(table.pk, look=look)
        while import_some(table.pk):
            table.refresh_from_db()
            self.stdout.write(f"{table.position} of {table.rows} rows")
        table.refresh_from_db()
        self.stdout.write(f"{table.made} made, {table.known} known, {table.refused} refused")
        if target:
            header, rows = list_refused(table)
            target.write_text(write_table(header, rows), encoding="utf-8", newline="")
        return table.refused


def _mapped(table: TableImport, given: list[str]) -> list[str]:
    """Return what the columns are: as proposed, but as given where something is given."""
    columns = list(table.columns)
    for entry in given:
        header, _, target = entry.rpartition("=")
        if header not in table.header:
            raise CommandError(f"There is no column “{header}”.", returncode=USAGE)
        if target and target not in TARGETS:
            raise CommandError(f"A column cannot be “{target}”.", returncode=USAGE)
        columns = [LEAVE_OUT if known == target else known for known in columns]
        columns[table.header.index(header)] = target
    return columns


def _find_actor(name: str) -> User:
    """Return who brings the table in; raises CommandError when there is nobody."""
    if name:
        found = User.objects.filter(username=name, is_active=True).first()
    else:
        people = User.objects.filter(is_active=True).order_by("pk")
        found = next((user for user in people if user.has_perm(RUN_DESK)), None)
    if found is None:
        raise CommandError("Nobody runs this desk yet, or nobody has that name.", returncode=USAGE)
    return found
