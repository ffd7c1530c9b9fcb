"""How well rankings of faults fit what the faults turned out to be, beside baselines."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.errors import InputError, OutOfRangeError
from triage.evidence import Evidence
from triage.inference import compute_posterior
from triage.knowledge import Fault, Knowledge
from triage.reading import SentenceModel, list_own_words
from triage.workings.forecasts import (
    BrierParts,
    ReliabilityRow,
    brier_score,
    calibration_error,
    decompose_brier_binned,
    log_loss,
    reliability_table,
)
from triage.workings.proportions import USUAL_CONFIDENCE
from triage.workings.rankings import (
    WordRanking,
    hits_any,
    hits_main,
    normalized_gain,
    reciprocal_rank,
)

PLACES = (1, 3, 5)
RESAMPLES = 2000

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Judged:
    """One report's ranking of faults, and the faults it turned out to have.

    Parameters
    ----------
    ranking : tuple of str
        Faults, best first.
    labels : tuple of str, one or more
        The true faults, the main one first.
    chances : mapping of str to float or None
        Probability of each fault; None when the ranking is no forecast, as with words alone.
    """

    ranking: tuple[str, ...]
    labels: tuple[str, ...]
    chances: Mapping[str, float] | None = None


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure with the ends of its bootstrap interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Scores:
    """All figures of one way of ranking.

    Parameters
    ----------
    count : int
        Reports judged.
    figures : mapping of str to Figure
        ``hit@1``, ``hit@3``, ``hit@5``: any of the labels stands among the first so many.
        ``main@1``, ``main@3``, ``main@5``: the first label does.
        ``mean_reciprocal_rank``: 1 over the place of the first label found;
        ``main_reciprocal_rank``: 1 over the place of the main label.
        ``gain@5``: discounted gain of the labels over the best possible, each worth 1.
        With probabilities also: ``brier``, squared differences summed over all faults;
        ``log_loss``, nats summed over all faults; ``first_brier`` and ``calibration_error`` of
        the forecast "the first of the ranking is among the labels".
    first_parts : BrierParts or None
        Parts of ``first_brier`` over ten bins.
    reliability : tuple of ReliabilityRow
        Ten bins of the forecast "the first of the ranking is among the labels", empty left out.
    """

    count: int
    figures: Mapping[str, Figure]
    first_parts: BrierParts | None
    reliability: tuple[ReliabilityRow, ...]


def score_rankings(judged: Sequence[Judged], generator: np.random.Generator) -> Scores:
    """Return all figures of one way of ranking with bootstrap intervals over the reports.

    Parameters
    ----------
    judged : sequence of Judged, one or more
        All with probabilities or all without.
    generator : numpy.random.Generator
        Draws the resamples; the same seed gives the same intervals.

    Returns
    -------
    Scores

    Raises
    ------
    InputError
        If there is no report, one has no label, or only some have probabilities.
    OutOfRangeError
        If a probability is outside 0 to 1.
    """
    _check(judged)
    is_forecast = judged[0].chances is not None
    values = _ranking_values(judged) | (_forecast_values(judged) if is_forecast else {})
    table = np.column_stack(list(values.values()))
    sure, right = _first_forecasts(judged)
    means, errors = np.empty((RESAMPLES, len(values))), np.empty(RESAMPLES)
    for at in range(RESAMPLES):  # one at a time, so that many reports need no more memory
        drawn = generator.integers(0, len(judged), len(judged))
        means[at] = table[drawn].mean(axis=0)
        errors[at] = calibration_error(right[drawn], sure[drawn])
    figures = {
        name: bootstrap(float(found.mean()), means[:, column])
        for column, (name, found) in enumerate(values.items())
    }
    if not is_forecast:
        return Scores(len(judged), figures, None, ())
    figures["calibration_error"] = bootstrap(calibration_error(right, sure), errors)
    return Scores(
        count=len(judged),
        figures=figures,
        first_parts=decompose_brier_binned(right, sure),
        reliability=reliability_table(right, sure),
    )


def bootstrap(value: float, resampled: Floats, *, confidence: float = USUAL_CONFIDENCE) -> Figure:
    """Return a figure with the percentile interval of its resampled values.

    Parameters
    ----------
    value : float
        The figure on the data themselves.
    resampled : array, shape (resamples,)
        The figure on each resample.
    confidence : float, 0 to 1, both not included

    Returns
    -------
    Figure

    Raises
    ------
    OutOfRangeError
        If `confidence` is outside its range.

    Notes
    -----
    Source: [efron1993], chapter 13.
    """
    if not 0.0 < confidence < 1.0:
        msg = f"a confidence of {confidence:g} must lie between 0 and 1, both not included"
        raise OutOfRangeError(msg)
    tail = (1.0 - confidence) / 2
    low, high = np.quantile(resampled, (tail, 1.0 - tail))
    return Figure(value, float(low), float(high))


def forecast_by_prior(
    knowledge: Knowledge, *, process: str | None = None, material: str | None = None
) -> dict[str, float]:
    """Return the probability of each fault before anything is observed, best first.

    Parameters
    ----------
    knowledge : Knowledge
    process : {"MEX", "VPP"} or None
    material : str or None
        Material code; faults that cannot occur with it have probability 0.

    Returns
    -------
    dict of str to float

    Raises
    ------
    UnknownIdError
        If the knowledge has no such process or material.
    """
    bare = compute_posterior(knowledge, Evidence(process=process, material=material))
    return {fault.id: fault.probability for fault in bare.ranked}


class DescriptionRanking:
    """Ranks faults by the words a report shares with their descriptions: no knowledge of causes.

    A description is the fault's name, sign and why, and the names of the findings linked to it.
    Equal scores, such as no word shared, stand in the order given to `rank`.

    Parameters
    ----------
    knowledge : Knowledge
    """

    def __init__(self, knowledge: Knowledge) -> None:
        linked: dict[str, list[str]] = {name: [] for name in knowledge.faults}
        for link in knowledge.links:
            linked[link.fault].append(knowledge.findings[link.finding].name)
        self._words = WordRanking(
            {name: describe(fault, linked[name]) for name, fault in knowledge.faults.items()}
        )

    def rank(self, text: str, *, among: Sequence[str]) -> tuple[str, ...]:
        """Return the faults in `among`, those first whose description is most like the text."""
        scores = self._words.scores(text)
        return tuple(sorted(among, key=lambda fault: -scores[fault]))


class MeaningRanking:
    """Ranks faults by how near a report lies to what the knowledge says of them, in meaning.

    What is said are the texts of `list_own_words`; a fault's nearness is the mean over its texts of
    the cosine between the sentence model's vectors. No knowledge of causes.

    Parameters
    ----------
    knowledge : Knowledge
    model : SentenceModel
    """

    def __init__(self, knowledge: Knowledge, model: SentenceModel) -> None:
        self._model = model
        texts: dict[str, list[str]] = {}
        for said in list_own_words(knowledge, weight=1.0):
            texts.setdefault(said.faults[0], []).append(said.text)
        self._near = {
            fault: model.embed_all(said).mean(axis=0, dtype=np.float64)
            for fault, said in texts.items()
        }

    def rank(self, text: str, *, among: Sequence[str]) -> tuple[str, ...]:
        """Return the faults in `among`, those first whose description is nearest to the text."""
        asked = self._model.embed(text)
        return tuple(sorted(among, key=lambda fault: -float(asked @ self._near[fault])))


def describe(fault: Fault, finding_names: Sequence[str]) -> str:
    """Return all words of a fault and of the findings linked to it."""
    return ". ".join((fault.name, fault.sign, fault.why, *finding_names))


def _ranking_values(judged: Sequence[Judged]) -> dict[str, Floats]:
    """Return the figures of each report that its ranking alone decides."""
    values: dict[str, Sequence[float]] = {}
    for first in PLACES:
        values[f"hit@{first}"] = [hits_any(j.ranking, j.labels, first) for j in judged]
    for first in PLACES:
        values[f"main@{first}"] = [hits_main(j.ranking, j.labels, first) for j in judged]
    values["mean_reciprocal_rank"] = [reciprocal_rank(j.ranking, j.labels) for j in judged]
    values["main_reciprocal_rank"] = [reciprocal_rank(j.ranking, j.labels[:1]) for j in judged]
    values["gain@5"] = [normalized_gain(j.ranking, dict.fromkeys(j.labels, 1.0), 5) for j in judged]
    return {name: np.array(found, dtype=float) for name, found in values.items()}


def _forecast_values(judged: Sequence[Judged]) -> dict[str, Floats]:
    """Return the figures of each report that need its probabilities."""
    brier, surprise = [], []
    for report in judged:
        chances = report.chances or {}
        faults = sorted({*chances, *report.labels})
        happened = [fault in report.labels for fault in faults]
        chance = [chances.get(fault, 0.0) for fault in faults]
        brier.append(brier_score(happened, chance) * len(faults))
        surprise.append(log_loss(happened, chance) * len(faults))
    sure, right = _first_forecasts(judged)
    return {
        "brier": np.array(brier),
        "log_loss": np.array(surprise),
        "first_brier": (sure - right) ** 2,
    }


def _first_forecasts(judged: Sequence[Judged]) -> tuple[Floats, Floats]:
    """Return how sure each ranking is of its first fault, and whether that is a label."""
    sure = [(j.chances or {}).get(j.ranking[0], 0.0) for j in judged]
    right = [j.ranking[0] in j.labels for j in judged]
    return np.array(sure), np.array(right, dtype=float)


def _check(judged: Sequence[Judged]) -> None:
    if not judged:
        msg = "no report to score; 1 or more are needed"
        raise InputError(msg)
    for at, report in enumerate(judged, start=1):
        if not report.labels or not report.ranking:
            msg = f"report {at} of {len(judged)} has no label or no ranking"
            raise InputError(msg)
        if (report.chances is None) != (judged[0].chances is None):
            msg = f"report {at} of {len(judged)}: either all rankings have probabilities or none"
            raise InputError(msg)
