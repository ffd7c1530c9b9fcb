"""The numbers of the knowledge that cases can teach, each with a name and bounds."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from triage.knowledge import Knowledge

# Between what a revision may put a number, by kind, unless the expert's own lies outside. Nothing
# becomes certain, no finding proves or excludes a fault alone, and a finding that is there
# without a fault in more than half of all cases would not be a finding.
# [judgement: desk, 2026-11-25]
BOUNDS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "prior": (0.0005, 0.6),
        "link": (0.002, 0.99),
        "leak": (0.0002, 0.5),
        "cure": (0.005, 0.99),
    }
)


@dataclass(frozen=True, slots=True)
class Number:
    """The name of one number.

    Parameters
    ----------
    kind : {"prior", "link", "leak", "cure"}
    ids : tuple of str
        The fault; the fault and the finding; the finding; or the action and the fault.
    """

    kind: str
    ids: tuple[str, ...]

    def __str__(self) -> str:
        return " ".join((self.kind, *self.ids))


@dataclass(frozen=True, slots=True)
class Stated:
    """What the knowledge says of a number: its value and its source."""

    value: float
    source: str

    @property
    def is_learnable(self) -> bool:
        """Whether counts can move it: 0 and 1, which only a built network has, they cannot."""
        return 0.0 < self.value < 1.0


def list_numbers(knowledge: Knowledge) -> Mapping[Number, Stated]:
    """Return every number that can be learned, in the order of the knowledge.

    Risk odds are not among them: a desk sees too few cases of each risk.
    """
    found = {
        Number("prior", (fault.id,)): Stated(fault.prior, fault.source)
        for fault in knowledge.faults.values()
    }
    for link in knowledge.links:
        found[Number("link", (link.fault, link.finding))] = Stated(link.p, link.source)
    for finding in knowledge.findings.values():
        found[Number("leak", (finding.id,))] = Stated(finding.leak, finding.source)
    for action in knowledge.actions.values():
        for fault, chance in action.cures.items():
            found[Number("cure", (action.id, fault))] = Stated(chance, action.source)
    return found


def bounds_of(number: Number, stated: Stated) -> tuple[float, float]:
    """Return the least and the greatest value a revision may give a number."""
    least, most = BOUNDS[number.kind]
    return min(least, stated.value), max(most, stated.value)
