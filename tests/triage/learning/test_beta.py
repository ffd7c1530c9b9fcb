"""What an expert's number is worth."""

import math

import pytest

from triage.errors import OutOfRangeError
from triage.learning import EVEN_LOOKS, PUBLISHED_LOOKS, Beta, expert_beta


@pytest.mark.parametrize("value", [0.005, 0.1, 0.5, 0.95])
@pytest.mark.parametrize("source", ["memory", "common-practice", "go2017"])
def test_expert_beta_keeps_the_number(value: float, source: str) -> None:
    """Without a case the number is the expert's."""
    assert expert_beta(value, source).mean == pytest.approx(value, rel=1e-12)


def test_expert_beta_is_worth_its_even_looks_at_one_half() -> None:
    """At 1/2 a number is worth the looks stated for its source."""
    for source, looks in {**EVEN_LOOKS, "go2017": PUBLISHED_LOOKS}.items():
        assert expert_beta(0.5, source).looks == pytest.approx(looks)


def test_expert_beta_trusts_sources_in_order() -> None:
    """A published number moves less than a common one, and that less than a remembered one."""
    looks = [expert_beta(0.2, source).looks for source in ("memory", "common-practice", "go2017")]

    assert looks == sorted(looks)
    assert looks[0] < looks[1] < looks[2]


@pytest.mark.parametrize("value", [0.01, 0.2, 0.5])
def test_expert_beta_is_as_sure_of_the_odds_of_rare_things(value: float) -> None:
    """The variance of the log odds, about 1/successes + 1/failures, is the same for all."""
    beta = expert_beta(value, "memory")

    assert 1.0 / beta.successes + 1.0 / beta.failures == pytest.approx(4.0 / EVEN_LOOKS["memory"])


def test_one_case_does_not_turn_a_rare_fault_into_a_common_one() -> None:
    """One case of a fault thought to be in 1 of 100 raises it to less than 1.6 of 100."""
    after = expert_beta(0.01, "memory").after(1.0, 0.0)

    assert 0.012 < after.mean < 0.016


@pytest.mark.parametrize("value", [0.0, 1.0, -0.1, math.nan])
def test_expert_beta_refuses_what_no_count_moves(value: float) -> None:
    """Certainty cannot be learned away."""
    with pytest.raises(OutOfRangeError, match="must lie between 0 and 1, neither included"):
        expert_beta(value, "memory")


@pytest.mark.parametrize("pair", [(0.0, 1.0), (1.0, -1.0), (math.inf, 1.0), (1.0, math.nan)])
def test_beta_refuses_impossible_counts(pair: tuple[float, float]) -> None:
    """Both parameters are finite and above 0."""
    with pytest.raises(OutOfRangeError, match="both counts must be finite and above 0"):
        Beta(*pair)


@pytest.mark.parametrize("pair", [(-1.0, 0.0), (0.0, math.inf)])
def test_beta_refuses_impossible_observations(pair: tuple[float, float]) -> None:
    """Nothing can be unseen."""
    with pytest.raises(OutOfRangeError, match="must be finite and 0 or more"):
        Beta(1.0, 1.0).after(*pair)
