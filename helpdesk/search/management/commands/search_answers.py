"""Search from the command line."""

import json
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils.html import strip_tags

from helpdesk.search.selectors import Hit, find_cases


class Command(BaseCommand):
    """Print ranked hits with where each stands."""

    help = "Search cases, answers and episodes by words; prints ranked hits and where they stand."

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the words and the output form."""
        parser.add_argument("words")
        parser.add_argument("--json", action="store_true", help="one JSON list instead of lines")

    def handle(self, *args: Any, **options: Any) -> None:
        """Search and print."""
        hits = [_plain(n, hit) for n, hit in enumerate(find_cases(options["words"]).rows, 1)]
        if options["json"]:
            self.stdout.write(json.dumps(hits, ensure_ascii=False, indent=2))
            return
        for hit in hits:
            where = f"case {hit['case']}"
            if hit["episode"]:
                where += f", episode {hit['episode']} at {hit['second']} s"
            self.stdout.write(f"{hit['rank']:>3}  {where}  {hit['title']}")
        if not hits:
            self.stdout.write("Nothing was found.")


def _plain(rank: int, hit: Hit) -> dict[str, Any]:
    """Return a hit as plain values."""
    return {
        "rank": rank,
        "case": hit.case.pk,
        "title": hit.entry.title,
        "fault": hit.entry.fault,
        "outcome": hit.entry.outcome,
        "excerpt": strip_tags(hit.excerpt),
        "episode": hit.appearance.episode_number if hit.appearance else None,
        "second": hit.appearance.starts_at_s if hit.appearance else None,
    }
