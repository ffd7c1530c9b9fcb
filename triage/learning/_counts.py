"""What the lessons taught, as counts: immutable, mergeable, and plain as JSON."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from triage.errors import InputError, OutOfRangeError, suggest
from triage.knowledge import Knowledge
from triage.learning._lessons import Skipped
from triage.learning._numbers import Number, list_numbers

FORM = 1  # of the JSON


@dataclass(frozen=True, slots=True)
class Tally:
    """How often something was so and was not so; fractions where credit was shared."""

    successes: float
    failures: float

    def __add__(self, other: "Tally") -> "Tally":
        return Tally(self.successes + other.successes, self.failures + other.failures)


@dataclass(frozen=True, slots=True)
class Counts:
    """What lessons add to the expert's numbers.

    Parameters
    ----------
    lessons : int
        How many lessons were used.
    tallies : mapping of Number to Tally
        Only numbers something was learned about.
    skipped : tuple of Skipped
        What could not be used, and why.
    """

    lessons: int = 0
    tallies: Mapping[Number, Tally] = field(default_factory=dict)
    skipped: tuple[Skipped, ...] = ()

    def merge(self, other: "Counts") -> "Counts":
        """Return both counts together.

        Exact where no credit was shared. Where it was, each part shared it by what its own
        lessons taught, so learning from all lessons at once is a little better.
        """
        tallies = dict(self.tallies)
        for number, tally in other.tallies.items():
            tallies[number] = tallies[number] + tally if number in tallies else tally
        return Counts(self.lessons + other.lessons, tallies, (*self.skipped, *other.skipped))

    def to_json(self) -> dict[str, Any]:
        """Return the counts as plain values; `from_json` gives the same counts back."""
        return {
            "form": FORM,
            "lessons": self.lessons,
            "tallies": {
                str(number): [tally.successes, tally.failures]
                for number, tally in self.tallies.items()
            },
            "skipped": [[note.lesson, note.part, note.reason] for note in self.skipped],
        }

    @classmethod
    def from_json(cls, data: object, knowledge: Knowledge) -> "Counts":
        """Return the counts that `to_json` wrote.

        Parameters
        ----------
        data : dict
        knowledge : Knowledge
            Numbers it does not hold, because it changed since, are listed in `skipped`.

        Returns
        -------
        Counts

        Raises
        ------
        InputError
            If the data has another shape.
        OutOfRangeError
            If a count is negative or not finite.
        """
        if not isinstance(data, dict):
            msg = f"counts must be a JSON object, not {type(data).__name__}"
            raise InputError(msg)
        if data.get("form") != FORM:
            msg = f"counts: form {data.get('form')!r} is not understood; it must be {FORM}"
            raise InputError(msg)
        lessons = data.get("lessons")
        if isinstance(lessons, bool) or not isinstance(lessons, int) or lessons < 0:
            msg = f"counts: lessons {lessons!r} must be a whole number, 0 or more"
            raise InputError(msg)
        rows = data.get("tallies")
        if not isinstance(rows, dict):
            msg = "counts: tallies must be a JSON object of name to [successes, failures]"
            raise InputError(msg)
        names = {str(number): number for number in list_numbers(knowledge)}
        skipped = list(_read_notes(data.get("skipped")))
        tallies = {}
        for name, pair in rows.items():
            tally = _read_tally(name, pair)
            if name in names:
                tallies[names[name]] = tally
            else:
                skipped.append(Skipped("", name, f"not in the knowledge{suggest(name, names)}"))
        return cls(lessons, tallies, tuple(skipped))


def _read_tally(name: str, pair: object) -> Tally:
    """Return one tally, or raise with what is wrong."""
    if not isinstance(pair, list) or len(pair) != 2 or not all(map(_is_number, pair)):
        msg = f"counts: '{name}': {pair!r} must be two numbers, [successes, failures]"
        raise InputError(msg)
    if not all(math.isfinite(count) and count >= 0.0 for count in pair):
        msg = f"counts: '{name}': {pair!r} must be finite and 0 or more"
        raise OutOfRangeError(msg)
    return Tally(float(pair[0]), float(pair[1]))


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _read_notes(rows: object) -> tuple[Skipped, ...]:
    """Return the notes of what was skipped, or raise with what is wrong."""
    if not isinstance(rows, list):
        msg = "counts: skipped must be a list of [lesson, part, reason]"
        raise InputError(msg)
    notes = []
    for row in rows:
        if not isinstance(row, list) or len(row) != 3 or not all(isinstance(x, str) for x in row):
            msg = f"counts: skipped: {row!r} must be three texts, [lesson, part, reason]"
            raise InputError(msg)
        notes.append(Skipped(*row))
    return tuple(notes)
