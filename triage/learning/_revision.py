"""From the expert's knowledge and counts to a revision, and what a revision changes."""

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from hashlib import sha256

from triage.errors import InputError
from triage.knowledge import Knowledge
from triage.knowledge._build import finish_knowledge
from triage.knowledge._model import Entries
from triage.learning._beta import expert_beta
from triage.learning._counts import Counts, Tally
from triage.learning._numbers import Number, Stated, bounds_of, list_numbers

REVISION_MARK = "+"  # joins the versions of the knowledge and of the counts


def refuse_revision(knowledge: Knowledge) -> None:
    """Raise InputError if a knowledge is a revision made by `revise`."""
    if REVISION_MARK in knowledge.version:
        expert = knowledge.version.split(REVISION_MARK)[0]
        msg = (
            f"knowledge '{knowledge.version}' is a revision; use the expert's, '{expert}', "
            "or its lessons count twice"
        )
        raise InputError(msg)


def revise(knowledge: Knowledge, counts: Counts) -> Knowledge:
    """Return the knowledge with its numbers moved by counts.

    The same knowledge and counts give the same revision, down to its version; former counts give
    the former revision. Links are never added nor taken away. Counts of numbers the knowledge
    does not hold are not looked at.

    Parameters
    ----------
    knowledge : Knowledge
        As the experts wrote it, not a revision.
    counts : Counts

    Returns
    -------
    Knowledge
        Its version is that of the expert's, "+" and a hash of the tallies. Without tallies it is
        `knowledge` itself.

    Raises
    ------
    InputError
        If the knowledge is a revision already.
    OutOfRangeError
        If a tally is negative or not finite.
    """
    refuse_revision(knowledge)
    if not counts.tallies:
        return knowledge
    table = list_numbers(knowledge)
    moved = {
        number: _revised(number, table[number], tally)
        for number, tally in counts.tallies.items()
        if number in table and table[number].is_learnable
    }
    words = json.dumps(counts.to_json()["tallies"], sort_keys=True)
    version = f"{knowledge.version}{REVISION_MARK}{sha256(words.encode()).hexdigest()[:12]}"
    return finish_knowledge(_with_numbers(knowledge, moved), version=version)


def _revised(number: Number, stated: Stated, tally: Tally) -> float:
    """Return the value of a number after a tally."""
    beta = expert_beta(stated.value, stated.source).after(tally.successes, tally.failures)
    least, most = bounds_of(number, stated)
    return min(max(beta.mean, least), most)


def _with_numbers(knowledge: Knowledge, moved: Mapping[Number, float]) -> Entries:
    """Return the entries of a knowledge with some numbers changed."""

    def value(kind: str, *ids: str, old: float) -> float:
        return moved.get(Number(kind, ids), old)

    changed = {
        "faults": {
            name: replace(fault, prior=value("prior", name, old=fault.prior))
            for name, fault in knowledge.faults.items()
        },
        "findings": {
            name: replace(finding, leak=value("leak", name, old=finding.leak))
            for name, finding in knowledge.findings.items()
        },
        "links": tuple(
            replace(link, p=value("link", link.fault, link.finding, old=link.p))
            for link in knowledge.links
        ),
        "actions": {
            name: replace(
                action,
                cures={
                    fault: value("cure", name, fault, old=chance)
                    for fault, chance in action.cures.items()
                },
            )
            for name, action in knowledge.actions.items()
        },
    }
    kept = {field.name: getattr(knowledge, field.name) for field in fields(Entries)}
    return Entries(**(kept | changed))


@dataclass(frozen=True, slots=True)
class NumberChange:
    """A number that differs between two states of the knowledge.

    Parameters
    ----------
    number : Number
    before, after : float, 0 to 1
    """

    number: Number
    before: float
    after: float

    @property
    def kind(self) -> str:
        """What kind of number it is: "prior", "link", "leak" or "cure"."""
        return self.number.kind

    @property
    def ids(self) -> tuple[str, ...]:
        """The ids that name it, see `Number`."""
        return self.number.ids

    @property
    def decibans(self) -> float:
        """Weight of the change: ten times the common logarithm of the ratio of the odds."""
        if not (0.0 < self.before < 1.0 and 0.0 < self.after < 1.0):
            return math.copysign(math.inf, self.after - self.before)
        odds = self.after * (1.0 - self.before) / (self.before * (1.0 - self.after))
        return 10.0 * math.log10(odds)


def compare(before: Knowledge, after: Knowledge) -> tuple[NumberChange, ...]:
    """Return every number that both states of the knowledge hold and that differs.

    Parameters
    ----------
    before, after : Knowledge

    Returns
    -------
    tuple of NumberChange
        The largest change of odds first, either way; equals in the order of their names.
    """
    now = list_numbers(after)
    changes = [
        NumberChange(number, stated.value, now[number].value)
        for number, stated in list_numbers(before).items()
        if number in now and now[number].value != stated.value
    ]
    return tuple(sorted(changes, key=lambda change: (-abs(change.decibans), str(change.number))))
