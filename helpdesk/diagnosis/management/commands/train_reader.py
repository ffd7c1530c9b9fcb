"""Train the reader on the stories, the desk's own verdicts and what was said of readings."""

from typing import Any

from django.core.management.base import BaseCommand

from helpdesk.diagnosis.engine import english_of, train_phrases, train_reader
from helpdesk.diagnosis.judged_cases import list_judged_cases
from helpdesk.diagnosis.judged_readings import list_judged_readings


class Command(BaseCommand):
    """Write the trained classifier and the counts of phrases to the desk's data folder."""

    help = (
        "Train the classifier of reports on the invented stories and on the desk's own cases that "
        "have a verdict, count how reliable each phrase is in readings that were judged, and keep "
        "both in the data folder. Running processes take them up at their next diagnosis. Erased "
        "cases are left out: train anew after an erasure."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        """Train, write and say what was used."""
        own = list_judged_cases()
        told = [(english_of(given.text), faults) for given, faults in own.cases]
        english = [(words, faults) for words, faults in told if words.strip()]
        done = train_reader(english)
        self.stdout.write(f"Trained on {done.stories} stories and {done.cases} cases: {done.path}")
        left_out = {**own.left_out, "not in English": len(told) - len(english)}
        for why, count in left_out.items():
            if count:
                self.stdout.write(f"Left out: {count}, {why}")
        phrases = train_phrases(list_judged_readings())
        self.stdout.write(
            f"Phrases: {phrases.judged} readings judged, {phrases.standing} left standing, "
            f"{phrases.passed_over} not read by a phrase now: {phrases.path}"
        )
