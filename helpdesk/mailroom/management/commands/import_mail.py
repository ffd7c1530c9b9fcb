"""Read letters from files into the desk: ``python manage.py import_mail PATH``."""

import sys
from argparse import ArgumentParser
from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import chain
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from helpdesk.mailroom.models import Effect, IncomingMail, MailState
from helpdesk.mailroom.services import receive_letters, take_again, take_batch
from helpdesk.mailroom.sources import Item, list_letters

BATCH_LETTERS = 32
BATCH_BYTES = 16 * 1024 * 1024
ORIGIN = "import_mail"
STDIN = "-"
REFUSED, USAGE = 1, 2


class Command(BaseCommand):
    """Read letters from .eml and mbox files, maildirs or the standard input."""

    help = (
        "Reads .eml files, mbox files and maildirs. One line for each letter says what became of "
        "it. The same letters again change nothing. Exit status 1 when a letter was refused, 2 "
        "when a path cannot be used."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take paths and two switches."""
        parser.add_argument("paths", nargs="*", metavar="PATH", help="a file, a folder or -")
        parser.add_argument(
            "--no-receipts", action="store_true", help="acknowledge none of these letters"
        )
        parser.add_argument(
            "--again", action="store_true", help="also read again what was set aside earlier"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Import and exit with the status the help names."""
        if not options["paths"] and not options["again"]:
            self._fail("Name a file or folder to read, or use --again.")
        self.counts: Counter[str] = Counter()
        for batch in _batches(self._items(options["paths"])):
            self._take(batch, wants_receipt=not options["no_receipts"])
        if options["again"]:
            self._take_again()
        total = sum(self.counts.values())
        parts = ", ".join(f"{count} {word}" for word, count in sorted(self.counts.items()))
        self.stdout.write(f"{total} letters" + (f": {parts}" if parts else ""))
        if self.counts["refused"]:
            sys.exit(REFUSED)

    def _items(self, paths: Iterable[str]) -> Iterator[Item]:
        """Yield the letters of all paths; every path is looked at before the first letter."""
        sources: list[Iterable[Item]] = []
        for given in paths:
            if given == STDIN:
                sources.append([Item(STDIN, sys.stdin.buffer.read())])
                continue
            try:
                letters = list_letters(Path(given))
                first = next(letters, None)
            except FileNotFoundError:
                self._fail(f"There is no {given}.")
            except (OSError, ValueError) as error:
                self._fail(f"{given}: {error}")
            sources.append(chain([first] if first else [], letters))
        return chain.from_iterable(sources)

    def _take(self, batch: list[Item], *, wants_receipt: bool) -> None:
        """Keep a batch's bytes, then take its letters in one transaction."""
        readable = [item for item in batch if not item.refusal]
        raws = [item.raw for item in readable]
        rows = iter(receive_letters(raws, origin=ORIGIN, wants_receipt=wants_receipt))
        kept = [item.refusal or next(rows) for item in batch]
        waiting = {
            each.pk: each
            for each in kept
            if isinstance(each, IncomingMail) and each.state == MailState.WAITING
        }
        taken = {mail.pk: mail for mail in take_batch(list(waiting.values()))}
        for item, found in zip(batch, kept, strict=True):
            if not isinstance(found, IncomingMail):
                self._say(item.label, "refused", str(found))
            elif mail := taken.pop(found.pk, None):
                self._report(item.label, mail)
            else:
                self._say(item.label, "already known")

    def _take_again(self) -> None:
        aside = IncomingMail.objects.filter(state=MailState.QUARANTINED).order_by("pk")
        for pk in list(aside.values_list("pk", flat=True)):
            self._report(f"letter {pk}", take_again(pk))

    def _report(self, label: str, mail: IncomingMail) -> None:
        """Say what became of a letter."""
        if mail.state == MailState.TAKEN and mail.effect == Effect.REPORT:
            self._say(label, "new case", str(mail.case_id))
        elif mail.state == MailState.TAKEN:
            self._say(label, "reply to case", str(mail.case_id))
        elif mail.state == MailState.KEPT:
            self._say(label, f"{mail.get_kind_display()}, kept", mail.reason)
        else:
            self._say(label, "set aside", mail.reason)

    def _say(self, label: str, what: str, more: str = "") -> None:
        self.counts[what] += 1
        joint = " " if more.isdigit() else ": "
        self.stdout.write(f"{label}: {what}" + (f"{joint}{more}" if more else ""))

    def _fail(self, words: str) -> None:
        self.stderr.write(words)
        sys.exit(USAGE)


def _batches(items: Iterable[Item]) -> Iterator[list[Item]]:
    """Yield letters in batches that fit one short transaction and the memory."""
    batch: list[Item] = []
    size = 0
    for item in items:
        if batch and (len(batch) >= BATCH_LETTERS or size + len(item.raw) > BATCH_BYTES):
            yield batch
            batch, size = [], 0
        batch.append(item)
        size += len(item.raw)
    if batch:
        yield batch
