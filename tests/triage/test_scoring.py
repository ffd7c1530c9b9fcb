"""Scoring rankings of faults, the bootstrap and the two baselines."""

import math

import numpy as np
import pytest

from tests.triage.draws import draw_cases
from tests.triage.networks import make_layers12x15
from triage.errors import InputError, OutOfRangeError, UnknownIdError
from triage.inference import compute_posterior
from triage.knowledge import Knowledge, load_knowledge
from triage.scoring import (
    DescriptionRanking,
    Judged,
    bootstrap,
    forecast_by_prior,
    score_rankings,
)

CHANCES = {"wet": 0.6, "belt": 0.3, "fan": 0.2}
RANKING = tuple(CHANCES)


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    """Load the project's knowledge once."""
    return load_knowledge()


def seeded(seed: int = 7) -> np.random.Generator:
    """Return a generator that draws the same numbers each time."""
    return np.random.default_rng(seed)


def test_scores_of_two_reports_are_their_means() -> None:
    """One right at once, one whose second label stands second."""
    judged = [Judged(RANKING, ("wet",), CHANCES), Judged(RANKING, ("fan", "belt"), CHANCES)]

    scores = score_rankings(judged, seeded())

    values = {name: figure.value for name, figure in scores.figures.items()}
    assert scores.count == 2
    assert [values[f"hit@{first}"] for first in (1, 3, 5)] == [0.5, 1.0, 1.0]
    assert [values[f"main@{first}"] for first in (1, 3, 5)] == [0.5, 1.0, 1.0]
    assert values["mean_reciprocal_rank"] == 0.75
    assert values["main_reciprocal_rank"] == pytest.approx((1 + 1 / 3) / 2)
    assert values["gain@5"] == pytest.approx(
        (1.0 + (1 / math.log2(3) + 1 / math.log2(4)) / (1 + 1 / math.log2(3))) / 2
    )
    one = 0.4**2 + 0.3**2 + 0.2**2
    other = 0.6**2 + 0.7**2 + 0.8**2
    assert values["brier"] == pytest.approx((one + other) / 2)
    assert values["log_loss"] == pytest.approx(
        -math.log(0.6 * 0.7 * 0.8 * 0.4 * 0.3 * 0.2) / 2, rel=1e-12
    )
    assert values["first_brier"] == pytest.approx((0.4**2 + 0.6**2) / 2)
    assert values["calibration_error"] == pytest.approx(abs(0.6 - 0.5))
    assert [(row.low, row.count, row.observed) for row in scores.reliability] == [(0.6, 2, 0.5)]
    assert scores.first_parts is not None
    assert scores.first_parts.score == pytest.approx(values["first_brier"])


def test_label_the_ranking_lacks_counts_as_held_impossible() -> None:
    """A true fault without a probability adds 1 to the Brier score, and nothing to the hits."""
    scores = score_rankings([Judged(RANKING, ("nozzle",), CHANCES)], seeded())

    assert scores.figures["hit@5"].value == 0.0
    assert scores.figures["mean_reciprocal_rank"].value == 0.0
    assert scores.figures["brier"].value == pytest.approx(0.6**2 + 0.3**2 + 0.2**2 + 1.0)


def test_ranking_without_probabilities_has_no_forecast_figures() -> None:
    """Words alone give no probability, so nothing is made up for them."""
    scores = score_rankings([Judged(RANKING, ("belt",))], seeded())

    assert set(scores.figures) == {
        *(f"{kind}@{first}" for kind in ("hit", "main") for first in (1, 3, 5)),
        "mean_reciprocal_rank",
        "main_reciprocal_rank",
        "gain@5",
    }
    assert (scores.first_parts, scores.reliability) == (None, ())


def test_intervals_hold_their_figure_and_repeat_with_the_seed() -> None:
    """Sixty reports: every figure lies in its interval; the same seed gives the same ends."""
    judged = [Judged(RANKING, (RANKING[at * at % 3],), CHANCES) for at in range(60)]

    scores = score_rankings(judged, seeded())

    assert scores == score_rankings(judged, seeded())
    assert scores != score_rankings(judged, seeded(8))
    for figure in scores.figures.values():
        assert figure.low <= figure.value + 1e-12
        assert figure.value <= figure.high + 1e-12


def test_bootstrap_of_a_share_is_as_wide_as_the_normal_interval() -> None:
    """400 yes/no values, half of them yes: about ±1.96·0.5/20."""
    values = np.arange(400) % 2
    draws = seeded().integers(0, 400, (4000, 400))

    figure = bootstrap(0.5, values[draws].mean(axis=1))

    assert (figure.low, figure.high) == pytest.approx((0.451, 0.549), abs=0.004)


def test_bootstrap_refuses_a_confidence_of_1() -> None:
    """The message names the value and the limits."""
    with pytest.raises(OutOfRangeError, match=r"a confidence of 1 must lie between 0 and 1"):
        bootstrap(0.5, np.array([0.5]), confidence=1.0)


@pytest.mark.parametrize(
    ("judged", "message"),
    [
        ([], r"no report to score"),
        ([Judged(RANKING, ())], r"report 1 of 1 has no label or no ranking"),
        ([Judged((), ("wet",))], r"report 1 of 1 has no label or no ranking"),
        (
            [Judged(RANKING, ("wet",), CHANCES), Judged(RANKING, ("wet",))],
            r"report 2 of 2: either all rankings have probabilities or none",
        ),
    ],
)
def test_scores_refuse_what_cannot_be_scored(judged: list[Judged], message: str) -> None:
    """The message names the report."""
    with pytest.raises(InputError, match=message):
        score_rankings(judged, seeded())


def test_prior_is_the_belief_before_any_evidence() -> None:
    """Without process and material the twelve causes have their stated priors, best first."""
    network = make_layers12x15()

    chances = forecast_by_prior(network, process="MEX")

    stated = {name: fault.prior for name, fault in network.faults.items()}
    assert chances == pytest.approx(stated, abs=1e-12)
    assert list(chances.values()) == sorted(chances.values(), reverse=True)


def test_prior_knows_what_cannot_be(knowledge: Knowledge) -> None:
    """Faults of the other process, and those a material cannot have, have probability 0."""
    chances = forecast_by_prior(knowledge, process="VPP")

    assert all(
        chances[name] == 0.0 for name, fault in knowledge.faults.items() if fault.process == "MEX"
    )
    with pytest.raises(UnknownIdError, match="PLAA"):
        forecast_by_prior(knowledge, material="PLAA")


def test_description_finds_the_fault_it_describes(knowledge: Knowledge) -> None:
    """A fault's own name, sign and reason bring it to the front nearly always."""
    ranking = DescriptionRanking(knowledge)
    names = tuple(knowledge.faults)

    found = [
        ranking.rank(f"{fault.name}. {fault.sign} {fault.why}", among=names)[0] == name
        for name, fault in knowledge.faults.items()
    ]

    assert sum(found) >= 0.95 * len(found)


def test_description_keeps_to_the_faults_given_and_their_order(knowledge: Knowledge) -> None:
    """Without a common word the order given stands."""
    ranking = DescriptionRanking(knowledge)
    two = ("filament-wet", "pulley-loose")

    assert ranking.rank("qqq xyz", among=two) == two
    assert ranking.rank("the pulley turns on its shaft", among=two) == two[::-1]


def test_engine_beats_the_prior_on_cases_drawn_from_its_own_network(knowledge: Knowledge) -> None:
    """Where the network is true, the posterior is calibrated and far ahead of the prior."""
    drawn = draw_cases(knowledge, 11, 300)
    engine, prior = [], []
    for case in drawn:
        labels = tuple(sorted(case.faults))
        if not labels:
            continue
        now = compute_posterior(knowledge, case.evidence)
        ranked = tuple(fault.id for fault in now.ranked)
        engine.append(Judged(ranked, labels, now.chances))
        before = forecast_by_prior(knowledge, process=case.evidence.process)
        prior.append(Judged(tuple(before), labels, before))

    with_evidence = score_rankings(engine, seeded()).figures
    without = score_rankings(prior, seeded()).figures

    assert with_evidence["hit@1"].low > without["hit@1"].high
    assert with_evidence["brier"].high < without["brier"].low
    assert with_evidence["log_loss"].high < without["log_loss"].low
