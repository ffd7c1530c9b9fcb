"""What the person who would be asked can answer, and what answering costs them."""

import math
from dataclasses import dataclass
from typing import Literal

from triage.errors import OutOfRangeError, UnknownIdError
from triage.knowledge import PROCESSES, Finding, Knowledge, applies_to
from triage.previews import ROUND_TRIP_MINUTES, TOOL_MINUTES

# A measurement with tools is set up, and done again when in doubt: its minutes count so often
# [judgement: desk, 2026-11-25]
MEASURE_SHARE = 1.5
# Seen on a print that is gone: remembering takes longer and is less sure, so its minutes count
# so often [judgement: desk, 2026-11-25]
RECALL_SHARE = 2.0
# To put into words what a photo would show [judgement: desk, 2026-11-25]
WORDING_MINUTES = 2.0

Obstacle = Literal[
    "asked before",
    "on the photos",
    "other process",
    "tool refused",
    "print is gone",
    "printer is away",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Respondent:
    """The person who would be asked. What is left out is taken as the usual.

    Parameters
    ----------
    process : {"MEX", "VPP"} or None
        Process of their printer.
    tools : frozenset of str
        Tools at hand, by the names the knowledge has for them: no time goes into finding them.
    refused : frozenset of str
        Tools they have not got or will not use.
    has_print : bool
        Whether the failed print still exists.
    has_printer : bool
        Whether they can get at the printer.
    sends_photos : bool
        Whether they can send photos.
    on_photos : frozenset of str
        Findings that can be seen on the photos already sent: nobody has to be asked.
    asked : frozenset of str
        Findings asked about before, even if the answer was "don't know".
    round_trip_minutes : float
        What it costs to ask and wait for the answer, whatever the number of questions; 0 for
        somebody who stands beside you.

    Raises
    ------
    OutOfRangeError
        If `round_trip_minutes` is below 0 or not finite.
    """

    process: str | None = None
    tools: frozenset[str] = frozenset()
    refused: frozenset[str] = frozenset()
    has_print: bool = True
    has_printer: bool = True
    sends_photos: bool = True
    on_photos: frozenset[str] = frozenset()
    asked: frozenset[str] = frozenset()
    round_trip_minutes: float = ROUND_TRIP_MINUTES

    def __post_init__(self) -> None:
        if not 0.0 <= self.round_trip_minutes < math.inf:
            msg = f"a round trip of {self.round_trip_minutes:g} minutes must be 0 or more, finite"
            raise OutOfRangeError(msg)

    def obstacle(self, finding: Finding) -> Obstacle | None:
        """Return why this person is not to be asked about a finding, None when they can be."""
        if finding.id in self.asked:
            return "asked before"
        if finding.id in self.on_photos:
            return "on the photos"
        if not applies_to(finding.process, self.process):
            return "other process"
        if not self.refused.isdisjoint(finding.needs):
            return "tool refused"
        needed = _looked_at(finding)
        # What a print looked like can be remembered; what was never measured on it cannot.
        is_remembered = finding.kind == "part" and not finding.needs
        if not self.has_print and "print" in needed and not is_remembered:
            return "print is gone"
        if not self.has_printer and "printer" in needed:
            return "printer is away"
        return None

    def own_minutes(self, finding: Finding) -> float:
        """Return what answering costs, in minutes, without the round trip."""
        minutes = finding.minutes
        if finding.kind == "measure" and finding.needs:
            minutes *= MEASURE_SHARE
        if finding.kind == "part":
            if not self.has_print:
                minutes *= RECALL_SHARE
            if not self.sends_photos:
                minutes += WORDING_MINUTES
        return minutes + TOOL_MINUTES * sum(tool not in self.tools for tool in finding.needs)


def unanswerable(knowledge: Knowledge, respondent: Respondent) -> dict[str, Obstacle]:
    """Return the findings this person is not to be asked about, and why."""
    found = ((name, respondent.obstacle(entry)) for name, entry in knowledge.findings.items())
    return {name: why for name, why in found if why is not None}


def check_respondent(knowledge: Knowledge, respondent: Respondent) -> None:
    """Raise UnknownIdError for the first name of the respondent that the knowledge lacks."""
    needed = {tool for finding in knowledge.findings.values() for tool in finding.needs}
    needed |= {tool for action in knowledge.actions.values() for tool in action.tools}
    process = () if respondent.process is None else (respondent.process,)
    for kind, names, valid in (
        ("process", process, PROCESSES),
        ("tool", sorted(respondent.tools | respondent.refused), needed),
        ("finding", sorted(respondent.asked | respondent.on_photos), knowledge.findings),
    ):
        for name in names:
            if name not in valid:
                raise UnknownIdError(kind, name, valid)


def _looked_at(finding: Finding) -> tuple[str, ...]:
    """Return what has to be at hand to settle a finding."""
    if finding.looks_at is not None:
        return (finding.looks_at,)
    kinds = {"part": ("print",), "machine": ("printer",), "measure": ("print", "printer")}
    return kinds.get(finding.kind, ())
