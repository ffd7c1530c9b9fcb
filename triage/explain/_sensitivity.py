"""Which numbers of the knowledge a suspicion rests on.

P(evidence, fault) and P(evidence) are linear in each single number x, so that the posterior is
(a·x + b) / (c·x + d): from the two slopes it follows exactly for every value of x.
"""

import math
from dataclasses import dataclass

from triage.errors import UnknownIdError
from triage.inference import Posterior, Slope, list_slopes
from triage.knowledge import Knowledge

# Numbers of faults less probable than this can matter little [judgement: desk, 2026-11-25]
LEAST_FAULT = 0.01
FACTOR = 2.0  # by which the odds of a number are lowered and raised


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """One number of the knowledge and what it does to the probability of a fault.

    Parameters
    ----------
    kind : {"prior", "link", "leak", "cure"}
    fault : str
        Fault the number belongs to; "" for a leak.
    subject : str
        Finding or remedy it belongs to; "" for a prior.
    value : float
        The number; a prior as shifted by the case's risks and guesses.
    source : str
        Where the number comes from: key of a source.
    halved, doubled : float
        Probability of the fault asked about with the odds of the number halved and doubled.
    tips_at : float or None
        Value at which the strongest rival draws level; None when there is none between 0 and 1.
    """

    kind: str
    fault: str
    subject: str
    value: float
    source: str
    halved: float
    doubled: float
    tips_at: float | None


def rank_sensitivities(
    knowledge: Knowledge, posterior: Posterior, fault: str, *, limit: int = 8
) -> tuple[Sensitivity, ...]:
    """Return the numbers that move the probability of a fault most, one at a time.

    Parameters
    ----------
    knowledge : Knowledge
    posterior : Posterior
    fault : str
    limit : int

    Returns
    -------
    tuple of Sensitivity
        Largest difference between `halved` and `doubled` first.

    Raises
    ------
    UnknownIdError
        If the fault is not in the knowledge.

    Notes
    -----
    Source: [laskey1995], [coupe2002].
    """
    if fault not in knowledge.faults:
        raise UnknownIdError("fault", fault, knowledge.faults)
    rival = next(entry for entry in posterior.ranked if entry.id != fault).id
    sources = _Sources.of(knowledge)
    found = [
        _sensitivity(slope, posterior.chances[fault], posterior.chances[rival], sources)
        for slope in list_slopes(knowledge, posterior, (fault, rival), least=LEAST_FAULT)
    ]
    found.sort(key=lambda entry: (-abs(entry.doubled - entry.halved), entry.fault, entry.subject))
    return tuple(found[:limit])


def _sensitivity(slope: Slope, chance: float, rival: float, sources: "_Sources") -> Sensitivity:
    """Return what one number does to the fault asked about and to its rival."""
    total, own, other = slope.by.tolist()

    def at(value: float) -> float:
        step = value - slope.value
        whole = 1.0 + total * step
        return min(1.0, max(0.0, (chance + own * step) / whole)) if whole > 0.0 else chance

    level = math.inf if own == other else slope.value + (rival - chance) / (own - other)
    return Sensitivity(
        kind=slope.kind,
        fault=slope.fault,
        subject=slope.subject,
        value=slope.value,
        source=sources.of_number(slope),
        halved=at(_with_odds(slope.value, 1.0 / FACTOR)),
        doubled=at(_with_odds(slope.value, FACTOR)),
        tips_at=level if 0.0 < level < 1.0 else None,
    )


def _with_odds(value: float, factor: float) -> float:
    """Return a probability with its odds multiplied."""
    return value * factor / (1.0 - value + value * factor)


@dataclass(frozen=True, slots=True, eq=False)
class _Sources:
    """Where each number comes from."""

    knowledge: Knowledge
    links: dict[tuple[str, str], str]

    @classmethod
    def of(cls, knowledge: Knowledge) -> "_Sources":
        """Return the sources of a knowledge, links by fault and finding."""
        links = {(link.fault, link.finding): link.source for link in knowledge.links}
        return cls(knowledge, links)

    def of_number(self, slope: Slope) -> str:
        """Return the source of a number."""
        if slope.kind == "prior":
            return self.knowledge.faults[slope.fault].source
        if slope.kind == "leak":
            return self.knowledge.findings[slope.subject].source
        if slope.kind == "cure":
            return self.knowledge.actions[slope.subject].source
        return self.links[slope.fault, slope.subject]
