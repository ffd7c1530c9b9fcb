"""Which numbers of the knowledge a suspicion rests on.

P(evidence, fault) and P(evidence) are linear in each single number x, so that the posterior is
(a·x + b) / (c·x + d): from the two slopes it follows exactly for every value of x.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from triage.errors import UnknownIdError
from triage.evidence import Evidence
from triage.inference import Posterior, Slope, list_slopes
from triage.knowledge import Knowledge
from triage.knowledge._model import Floats

# Numbers of other faults less probable than this can matter little [judgement: desk, 2026-11-25]
LEAST_FAULT = 0.01
MOST_RIVALS = 6  # faults watched for taking the lead, those most probable now
# A value nearer to 0 or 1 than this is lost in rounding; the evidence may be impossible there.
LEAST_LEVEL = 1e-9
FACTOR = 2.0  # by which the odds of a number are lowered and raised


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """One number of the knowledge and what it does to the probability of a fault.

    Parameters
    ----------
    kind : {"prior", "link", "leak", "cure", "risk"}
        "risk" is the odds ratio by which a circumstance that holds raises a fault's prior.
    fault : str
        Fault the number belongs to; "" for a leak.
    subject : str
        Finding, remedy or risk it belongs to; "" for a prior.
    value : float
        The number as it stands in the knowledge: a probability, for a risk an odds ratio.
    source : str
        Where the number comes from: key of a source.
    halved, doubled : float
        Probability of the fault asked about with the odds of the number, for a risk the odds
        ratio itself, halved and doubled.
    slope : float
        Change of the fault's log-odds for a small change of the number's log-odds; 1 when they
        move together, 0 when the fault is certain either way.
    tips_at : float or None
        The value nearest to the present one, in log-odds, at which another fault draws level
        with the leader; None when there is none in the number's range.
    tips_to : str or None
        The fault that takes the lead there.
    """

    kind: str
    fault: str
    subject: str
    value: float
    source: str
    halved: float
    doubled: float
    slope: float
    tips_at: float | None
    tips_to: str | None


def rank_sensitivities(
    knowledge: Knowledge,
    posterior: Posterior,
    fault: str,
    *,
    evidence: Evidence | None = None,
    limit: int = 8,
) -> tuple[Sensitivity, ...]:
    """Return the numbers that move the probability of a fault most, one at a time.

    Parameters
    ----------
    knowledge : Knowledge
    posterior : Posterior
    fault : str
    evidence : Evidence, optional
        What the posterior is of. With it, the odds of risks that hold and the links to findings
        that a written report does not mention are looked at too.
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
    Exact for every value of the number, all others being as they are. Only the leader, the fault
    asked about and the `MOST_RIVALS` most probable others are watched for the lead.
    Source: [laskey1995], [coupe2002].
    """
    if fault not in knowledge.faults:
        raise UnknownIdError("fault", fault, knowledge.faults)
    likely = [entry.id for entry in posterior.ranked[: 1 + MOST_RIVALS]]
    watched = tuple(dict.fromkeys((fault, *likely)))
    evidence = evidence or Evidence()
    numbers = list_slopes(knowledge, evidence, posterior, watched, least=LEAST_FAULT)
    numbers += tuple(_odds_of_risks(knowledge, evidence, numbers))
    if not numbers:
        return ()
    chances = np.array([1.0, *(posterior.chances[name] for name in watched)])
    field = _Field(knowledge, posterior.ranked[0].id, watched, chances)
    slopes = np.array([number.by for number in numbers])
    values = np.array([number.value for number in numbers])
    halved = field.chance_at(slopes, values, _with_odds(values, 1.0 / FACTOR))
    doubled = field.chance_at(slopes, values, _with_odds(values, FACTOR))
    order = sorted(
        range(len(numbers)),
        key=lambda at: (-abs(doubled[at] - halved[at]), numbers[at].fault, numbers[at].subject),
    )
    sources = _Sources.of(knowledge)
    return tuple(
        field.describe(
            numbers[at],
            sources.of_number(numbers[at]),
            halved=float(halved[at]),
            doubled=float(doubled[at]),
        )
        for at in order[:limit]
    )


def _odds_of_risks(
    knowledge: Knowledge, evidence: Evidence, numbers: Sequence[Slope]
) -> Iterator[Slope]:
    """Yield the odds of each risk that holds: they multiply those of a prior."""
    priors = {number.fault: number for number in numbers if number.kind == "prior"}
    for risk in dict.fromkeys(evidence.risks):
        for fault in knowledge.risks[risk].odds:
            if fault in priors:
                yield replace(priors[fault], kind="risk", subject=risk)


@dataclass(frozen=True, slots=True, eq=False)
class _Field:
    """The faults that are watched; `watched[0]` is the one asked about.

    `chances`, shape (1 + watched,), is what the slopes are slopes of: 1, then the posteriors.
    """

    knowledge: Knowledge
    leader: str
    watched: tuple[str, ...]
    chances: Floats

    def chance_at(self, slopes: Floats, values: Floats, others: Floats) -> Floats:
        """Return the probability of the fault asked about at another value of each number.

        Parameters
        ----------
        slopes : array, shape (numbers, 1 + watched)
        values, others : array, shape (numbers,)

        Returns
        -------
        array, shape (numbers,)
        """
        joint = self.chances + slopes * (others - values)[:, None]
        possible = joint[:, 0] > 0.0
        share = joint[:, 1] / np.where(possible, joint[:, 0], 1.0)
        return np.asarray(np.clip(np.where(possible, share, self.chances[1]), 0.0, 1.0))

    def describe(self, number: Slope, source: str, *, halved: float, doubled: float) -> Sensitivity:
        """Return one number with what it does."""
        shown = self._shown(number)
        level, rival = self._level(number)
        return Sensitivity(
            kind=number.kind,
            fault=number.fault,
            subject=number.subject,
            value=shown,
            source=source,
            halved=halved,
            doubled=doubled,
            slope=self._slope(number),
            tips_at=None if level is None else _move(number, shown, level),
            tips_to=rival,
        )

    def _shown(self, number: Slope) -> float:
        """Return the number as it stands in the knowledge."""
        if number.kind == "prior":
            return self.knowledge.faults[number.fault].prior
        if number.kind == "risk":
            return self.knowledge.risks[number.subject].odds[number.fault]
        return number.value

    def _slope(self, number: Slope) -> float:
        """Return the slope of log-odds against log-odds."""
        chance = float(self.chances[1])
        if not 0.0 < chance < 1.0:
            return 0.0
        total, own = float(number.by[0]), float(number.by[1])
        change = own / chance - (total - own) / (1.0 - chance)
        return number.value * (1.0 - number.value) * change

    def _level(self, number: Slope) -> tuple[float | None, str | None]:
        """Return the nearest value at which another fault has the leader's probability."""
        if not 0.0 < number.value < 1.0:
            return None, None
        lead = 1 + self.watched.index(self.leader)
        best: tuple[float, float, str] | None = None
        for at, name in enumerate(self.watched, start=1):
            steeper = float(number.by[at] - number.by[lead])
            if at == lead or steeper == 0.0:
                continue
            level = number.value + float(self.chances[lead] - self.chances[at]) / steeper
            if not LEAST_LEVEL < level < 1.0 - LEAST_LEVEL:
                continue
            distance = abs(math.log(_odds(level) / _odds(number.value)))
            if best is None or distance < best[0]:
                best = (distance, level, name)
        return (None, None) if best is None else best[1:]


def _move(number: Slope, shown: float, level: float) -> float:
    """Return what the number shown becomes when the sum has it at `level`.

    The sum knows a prior as shifted by risks and guesses, but odds keep their ratio.
    """
    ratio = _odds(level) / _odds(number.value)
    return shown * ratio if number.kind == "risk" else float(_with_odds(np.array(shown), ratio))


def _odds(chance: float) -> float:
    return chance / (1.0 - chance)


def _with_odds(value: Floats, factor: float) -> Floats:
    """Return probabilities with their odds multiplied; 0 and 1 stay."""
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
        if slope.kind == "risk":
            return self.knowledge.risks[slope.subject].source
        if slope.kind == "cure":
            return self.knowledge.actions[slope.subject].source
        return self.links[slope.fault, slope.subject]
