"""Fill a desk with many made-up cases, to measure it."""

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from helpdesk.demo.load import make_cases


class Command(BaseCommand):
    """Add a number of made-up cases."""

    help = "Add many made-up cases, reports and search entries, to measure pages with."

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare how many."""
        parser.add_argument("count", type=int)

    def handle(self, *args: Any, **options: Any) -> None:
        """Write them and say how far it is."""
        make_cases(options["count"], lambda done: self.stdout.write(f"{done} cases", ending="\r"))
        self.stdout.write(f"\n{options['count']} cases made.")
