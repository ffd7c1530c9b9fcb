"""Inference agrees with brute force on any small network."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.triage.networks import make_evidence
from tests.triage.strategies import PATIENT, Drawn, networks
from triage.evidence import Observation
from triage.inference import (
    compute_answer_effects,
    compute_joint,
    compute_posterior,
    update_posterior,
)
from triage.previews import marginal_gains

EXACT = 1e-12


@given(networks())
@PATIENT
def test_posteriors_are_those_of_brute_force(drawn: Drawn) -> None:
    """Posteriors and P(evidence) agree with exact fractions, whatever was seen."""
    judged = drawn.judge()

    posterior = compute_posterior(drawn.knowledge, drawn.evidence)

    assert math.exp(posterior.log_evidence) == pytest.approx(float(judged.evidence), rel=EXACT)
    found = list(posterior.chances.values())
    assert found == pytest.approx([float(part) for part in judged.posterior], rel=EXACT, abs=1e-300)


@given(networks())
@PATIENT
def test_ranking_is_best_first_and_impossible_faults_are_zero(drawn: Drawn) -> None:
    """Probabilities fall along the ranking; a prior of 0 stays exactly 0."""
    ranked = compute_posterior(drawn.knowledge, drawn.evidence).ranked

    falling = [fault.probability for fault in ranked]
    assert falling == sorted(falling, reverse=True)
    for at, prior in enumerate(drawn.priors):
        probability = next(fault.probability for fault in ranked if fault.id == f"f{at}")
        assert (probability == 0.0) == (prior == 0.0)


@given(networks(), st.randoms(use_true_random=False))
@PATIENT
def test_the_order_of_observations_does_not_matter(drawn: Drawn, random: object) -> None:
    """Shuffled evidence gives the same posterior."""
    observations = list(drawn.evidence.observations)
    random.shuffle(observations)  # type: ignore[attr-defined]
    shuffled = replace(drawn.evidence, observations=tuple(observations))

    found = compute_posterior(drawn.knowledge, shuffled).chances

    assert found == pytest.approx(
        dict(compute_posterior(drawn.knowledge, drawn.evidence).chances), rel=EXACT
    )


@given(networks())
@PATIENT
def test_answer_effects_are_the_posteriors_after_each_answer(drawn: Drawn) -> None:
    """One batch gives what observing each answer would give, and the answers average out."""
    unseen = [f"e{at}" for at in range(len(drawn.leaks)) if at not in drawn.pairs]
    knowledge, evidence = drawn.knowledge, drawn.evidence

    effects = compute_answer_effects(knowledge, compute_posterior(knowledge, evidence), unseen)

    assert (marginal_gains(effects) > -1e-9).all()
    for at, finding in enumerate(unseen):
        for state, found in (("present", effects.if_present), ("absent", effects.if_absent)):
            more = (*evidence.observations, Observation(finding, state))  # type: ignore[arg-type]
            after = compute_posterior(knowledge, replace(evidence, observations=more))
            # A "yes" comes by subtraction: rounding is divided by its probability.
            assert found[at] == pytest.approx(list(after.chances.values()), abs=1e-9)
        average = effects.present[at] * effects.if_present[at]
        average += (1.0 - effects.present[at]) * effects.if_absent[at]
        assert average == pytest.approx(effects.now, abs=1e-12)


@given(networks())
@PATIENT
def test_the_joint_sums_to_the_marginals(drawn: Drawn) -> None:
    """Listing all sets of faults gives the same posteriors."""
    joint = compute_joint(drawn.knowledge, drawn.evidence)

    found = [joint.reshape(-1, 2, 1 << at)[:, 1].sum() for at in range(len(drawn.priors))]
    expected = compute_posterior(drawn.knowledge, drawn.evidence).chances
    assert found == pytest.approx(list(expected.values()), abs=1e-12)


@given(networks(), networks(), st.sampled_from(["observe", "withdraw", "doubt", "process"]))
@PATIENT
def test_an_update_is_a_full_computation(drawn: Drawn, other: Drawn, change: str) -> None:
    """One finding more, fewer or differently seen, or the process unknown: the same posterior."""
    pairs = dict(drawn.pairs)
    seen = {at: pair for at, pair in other.pairs.items() if at < len(drawn.leaks)}
    if change == "observe":
        pairs |= dict(list(seen.items())[:1])
    elif change == "withdraw":
        pairs = dict(list(pairs.items())[1:])
    elif change == "doubt":
        pairs = {at: (0.9 * yes + 0.05, 0.9 * no + 0.05) for at, (yes, no) in pairs.items()}
    after = make_evidence(soft=pairs, process=None if change == "process" else "MEX")
    before = compute_posterior(drawn.knowledge, drawn.evidence)

    updated = update_posterior(drawn.knowledge, before, after)

    expected = compute_posterior(drawn.knowledge, after)
    assert updated.log_evidence == pytest.approx(expected.log_evidence, abs=EXACT)
    assert dict(updated.chances) == pytest.approx(dict(expected.chances), abs=EXACT)
