"""Search from the command line."""

import json
from itertools import zip_longest
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils.html import strip_tags

from helpdesk.search.selectors import Hit, find_cases
from helpdesk.search.spoken import SpokenHit, find_spoken


class Command(BaseCommand):
    """Print ranked hits with where each stands."""

    help = "Search cases, answers and episodes by words; prints ranked hits and where they stand."

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the words and the output form."""
        parser.add_argument("words")
        parser.add_argument("--json", action="store_true", help="one JSON list instead of lines")

    def handle(self, *args: Any, **options: Any) -> None:
        """Search and print."""
        cases = [_plain_case(hit) for hit in find_cases(options["words"]).rows]
        spoken = [_plain_spoken(hit) for hit in find_spoken(options["words"]).rows]
        # The scores of two indexes cannot be compared: best beside best, second beside second.
        pairs = zip_longest(cases, spoken)
        found = [hit for pair in pairs for hit in pair if hit is not None]
        hits = [{"rank": rank, **hit} for rank, hit in enumerate(found, 1)]
        if options["json"]:
            self.stdout.write(json.dumps(hits, ensure_ascii=False, indent=2))
            return
        for hit in hits:
            self.stdout.write(f"{hit['rank']:>3}  {_say_where(hit)}  {hit['title']}")
        if not hits:
            self.stdout.write("Nothing was found.")


def _say_where(hit: dict[str, Any]) -> str:
    """Return where a hit stands in words."""
    at = f"episode {hit['episode']} at {hit['second']} s" if hit["episode"] else ""
    if hit["where"] == "episode":
        return f"{at} (case {hit['case']})" if hit["case"] else at
    return f"case {hit['case']}" + (f", {at}" if at else "")


def _plain_case(hit: Hit) -> dict[str, Any]:
    """Return a case that was found as plain values."""
    return {
        "where": "case",
        "case": hit.case.pk,
        "title": hit.entry.title,
        "fault": hit.entry.fault,
        "outcome": hit.entry.outcome,
        "excerpt": strip_tags(hit.excerpt),
        "episode": hit.appearance.episode_number if hit.appearance else None,
        "second": hit.appearance.starts_at_s if hit.appearance else None,
        "address": hit.case.get_absolute_url(),
    }


def _plain_spoken(hit: SpokenHit) -> dict[str, Any]:
    """Return a moment of a show as plain values; its address opens at the second."""
    return {
        "where": "episode",
        "case": hit.case_id,
        "title": hit.title,
        "fault": hit.fault,
        "outcome": "",
        "excerpt": strip_tags(hit.excerpt),
        "episode": hit.number,
        "second": hit.at.second,
        "address": hit.at.address,
    }
