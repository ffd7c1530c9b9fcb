"""Build the search index anew."""

from typing import Any

from django.core.management.base import BaseCommand

from helpdesk.cases.models import Case
from helpdesk.search.services import index_case


class Command(BaseCommand):
    """Index every case again; safe at any time."""

    help = "Write every case's searchable text anew and print how many there are."

    def handle(self, *args: Any, **options: Any) -> None:
        """Index case by case, so that nothing is locked for long."""
        count = 0
        for case_id in Case.objects.order_by("pk").values_list("pk", flat=True).iterator():
            index_case(case_id)
            count += 1
        self.stdout.write(f"{count} cases indexed.")
