"""Learn from corrected shows where segments begin: ``python manage.py train_segments``."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from helpdesk.archive import engine
from helpdesk.archive.training import LEAST_SHOWS, NEAR_S, list_corrected, measure_learning


class Command(BaseCommand):
    """Learn, measure on shows held out, and keep what is better."""

    help = (
        "Learns from every show of the archive that was corrected or found right, and prints how "
        "well shows were cut that were held out of the learning, before and after. What was "
        "learned is kept in the data folder and used by the next imports, unless it is no better. "
        "Segments that are there stay as they are."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take one switch."""
        parser.add_argument("--anyway", action="store_true", help="keep it though it is no better")

    def handle(self, *args: Any, **options: Any) -> None:
        """Learn and say what came of it."""
        shows = list_corrected()
        if len(shows) < LEAST_SHOWS:
            self.stdout.write(
                f"Shows that were corrected or found right: {len(shows)}. Learning needs "
                f"{LEAST_SHOWS} or more."
            )
            return
        lesson = measure_learning(shows)
        self.stdout.write(f"{lesson.shows} shows, each cut by what was learned from others")
        for word, score in (("before", lesson.before), ("after", lesson.after)):
            self.stdout.write(
                f"{word:>6}: starts found within {NEAR_S:.0f} s {score.starts:.1%} (F1), "
                f"time of the right kind {score.kinds:.1%}"
            )
        if not lesson.is_better and not options["anyway"]:
            self.stdout.write("It is no better, so nothing was changed. --anyway keeps it.")
            return
        path = engine.store_model(engine.learn_model(shows))
        self.stdout.write(f"Kept for the next imports: {path}")
