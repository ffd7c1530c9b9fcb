"""Train the classifier of whole texts on the stories and the desk's own verdicts."""

from typing import Any

from django.core.management.base import BaseCommand

from helpdesk.diagnosis.engine import train_reader
from helpdesk.diagnosis.judged_cases import list_judged_cases


class Command(BaseCommand):
    """Write the trained classifier to the desk's data folder."""

    help = (
        "Train the classifier of reports on the invented stories and on the desk's own cases that "
        "have a verdict, and keep it in the data folder. Running processes take it up at their "
        "next diagnosis. Erased cases are left out: train anew after an erasure."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        """Train, write and say what was used."""
        own = list_judged_cases()
        done = train_reader([(given.text, faults) for given, faults in own.cases])
        self.stdout.write(f"Trained on {done.stories} stories and {done.cases} cases: {done.path}")
        for why, count in own.left_out.items():
            self.stdout.write(f"Left out: {count}, {why}")
