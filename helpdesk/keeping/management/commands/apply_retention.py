"""Remove what is older than the times of keeping, or say what would go."""

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from helpdesk.keeping.rules import list_rules
from helpdesk.keeping.services import apply_rule


class Command(BaseCommand):
    """One line a rule: kind, how many, and the rule in words."""

    help = "Removes what is older than the times of keeping. The worker does the same by itself."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the one option."""
        parser.add_argument(
            "--dry-run", action="store_true", help="count what would go and remove nothing"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Apply every rule until nothing is left of what it finds, or count."""
        for rule in list_rules().values():
            if not rule.days:
                self.stdout.write(f"{rule.kind}: kept ({rule.what}, no time set)")
                continue
            count = rule.list_due().count() if options["dry_run"] else self._apply(rule)
            verb = "would go" if options["dry_run"] else "went"
            self.stdout.write(f"{rule.kind}: {count} {verb} ({rule.words})")

    def _apply(self, rule: Any) -> int:
        total = 0
        while removed := apply_rule(rule):
            total += removed
        return total
