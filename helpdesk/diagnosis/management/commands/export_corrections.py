"""Write what people said of readings for who keeps the phrases of the knowledge."""

import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from helpdesk.diagnosis.judged_readings import export_corrections


class Command(BaseCommand):
    """Print one JSON object a line: what was read or missed, in which words and sentence."""

    help = (
        "Write what reviewers and writers said of readings as JSON lines. Only of people who "
        "agreed that an answer is published, without their names and addresses; look through the "
        "sentences all the same before you pass them on. Erased cases are left out."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the name of a file."""
        parser.add_argument("--output", type=Path, help="file to write; standard output without it")

    def handle(self, *args: Any, **options: Any) -> None:
        """Write the lines, then say on standard error what was left out."""
        found = export_corrections()
        words = "".join(f"{json.dumps(line, ensure_ascii=False)}\n" for line in found.lines)
        path = options["output"]
        if path is None:
            self.stdout.write(words, ending="")
        else:
            try:
                path.write_text(words, encoding="utf-8")
            except OSError as error:
                raise CommandError(f"{path} cannot be written: {error.strerror}") from error
            self.stderr.write(f"Written: {len(found.lines)} to {path}")
        for why, count in found.left_out.items():
            self.stderr.write(f"Left out: {count}, {why}")
