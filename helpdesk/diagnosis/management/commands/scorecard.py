"""The scorecard from the command line: how well the engine finds what was wrong."""

import json
import sys
from collections.abc import Mapping
from contextlib import nullcontext
from dataclasses import asdict
from pathlib import Path
from typing import Any, BinaryIO

from django.core.management.base import BaseCommand, CommandError, CommandParser

from helpdesk.diagnosis.engine.scorecard import Scorecard, score_inputs, score_lines
from helpdesk.diagnosis.judged_cases import list_judged_cases

REFUSED, USAGE = 1, 2
COLUMNS = {
    "engine": "engine",
    "prior": "prior alone",
    "words": "words (BM25)",
    "meaning": "sentence model alone",
}
ROWS = {
    "hit@1": "a label first",
    "hit@3": "a label among 3",
    "hit@5": "a label among 5",
    "main@1": "main label first",
    "main@3": "main label among 3",
    "main@5": "main label among 5",
    "mean_reciprocal_rank": "mean reciprocal rank",
    "main_reciprocal_rank": "same of the main label",
    "gain@5": "discounted gain of 5",
    "brier": "Brier, all faults",
    "log_loss": "log-loss, all faults",
    "first_brier": "Brier of the first",
    "calibration_error": "calibration error",
}
WIDTH = 24
NO_MODEL = (
    "Without the column of the sentence model: the extra 'meaning' is not installed "
    "(docs/reading.md says how)."
)
LEARNED = (
    "These numbers were learned from the desk's own cases: on those cases the card is too kind."
)


class Command(BaseCommand):
    """Print the scorecard of labelled reports, or of the desk's own cases with a verdict."""

    help = (
        "Score the engine's rankings beside its baselines, on labelled JSON lines or on the "
        "desk's own cases that have a verdict. docs/scorecard.md says what each figure means."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare where the reports come from and the form of the output."""
        parser.add_argument(
            "--input",
            metavar="FILE",
            help="labelled JSON lines; - for stdin; left out: the desk's own cases",
        )
        parser.add_argument("--json", action="store_true", help="one JSON object, not a table")

    def handle(self, *args: Any, **options: Any) -> None:
        """Score and print; exit 1 when something was refused, 2 when the file cannot be read."""
        self._is_json = options["json"]
        if options["input"] is None:
            own = list_judged_cases()
            self._print(score_inputs(own.cases), own.left_out)
            return
        refused: list[str] = []
        with _open(options["input"]) as stream:
            card = score_lines(stream, refused.append)
        for complaint in refused:
            self.stderr.write(complaint)
        if card is None:
            raise CommandError("No report could be scored.", returncode=REFUSED)
        self._print(card, {})
        if refused:
            places = "one place" if len(refused) == 1 else f"{len(refused)} places"
            raise CommandError(f"Refused in {places}; the rest was scored.", returncode=REFUSED)

    def _print(self, card: Scorecard | None, left_out: Mapping[str, int]) -> None:
        """Print a card, also one of no report."""
        found = {"count": 0, "left_out": dict(left_out)} if card is None else _plain(card, left_out)
        self.stdout.write(json.dumps(found, indent=2) if self._is_json else _table(found))


def _open(name: str) -> Any:
    """Return a file, or standard input, as a context that closes only the file."""
    if name == "-":
        stdin: BinaryIO = sys.stdin.buffer
        return nullcontext(stdin)
    try:
        return Path(name).open("rb")
    except OSError as error:
        raise CommandError(f"cannot read '{name}': {error.strerror}", returncode=USAGE) from error


def _plain(card: Scorecard, left_out: Mapping[str, int]) -> dict[str, Any]:
    """Return a card as plain values."""
    return {
        "count": card.count,
        "left_out": dict(left_out),
        "knowledge": {"version": card.knowledge_version, "revision": card.revision},
        # A column that is missing is said to be, not left to be missed.
        **dict.fromkeys(COLUMNS),
        **{name: asdict(scores) for name, scores in card.scores.items()},
    }


def _table(found: Mapping[str, Any]) -> str:
    """Return a card as a table with its interval beside each figure."""
    head = [
        f"Scored: {found['count']}",
        *(f"Left out: {count}, {why}" for why, count in found["left_out"].items()),
    ]
    if not found["count"]:
        return "\n".join([*head, "No case has a verdict that can be scored yet."])
    revision = found["knowledge"]["revision"]
    numbers = "the expert's numbers" if revision is None else f"revision {revision}"
    columns = {name: words for name, words in COLUMNS.items() if found[name] is not None}
    lines = [
        *head,
        f"Knowledge: {found['knowledge']['version']}, {numbers}",
        *([LEARNED] if revision is not None else []),
        *([NO_MODEL] if found["meaning"] is None else []),
        "",
        " " * WIDTH + "".join(f"{words:>22}" for words in columns.values()),
    ]
    for key, words in ROWS.items():
        cells = (_cell(found[name]["figures"].get(key)) for name in columns)
        lines.append(f"{words:<{WIDTH}}" + "".join(f"{cell:>22}" for cell in cells))
    lines += ["", "How sure the engine was of its first, and how often that was a label:"]
    lines += [
        f"  {row['low']:.1f} to {row['high']:.1f}: {row['count']} of them, "
        f"forecast {row['forecast']:.2f}, came true {row['observed']:.2f}"
        for row in found["engine"]["reliability"]
    ]
    return "\n".join([*lines, "", "In brackets: 95 % bootstrap intervals over the reports."])


def _cell(figure: Mapping[str, float] | None) -> str:
    """Return a figure with its interval."""
    if figure is None:
        return "–"
    return f"{figure['value']:.3f} [{figure['low']:.2f}, {figure['high']:.2f}]"
