"""Evidence values: certain by default, checked when given."""

import pytest

from triage.errors import OutOfRangeError
from triage.evidence import Evidence, Observation


@pytest.mark.parametrize(("state", "pair"), [("present", (1.0, 0.0)), ("absent", (0.0, 1.0))])
def test_observation_is_certain_by_default(state: str, pair: tuple[float, float]) -> None:
    """Without likelihoods an observation leaves no doubt, whichever way it goes."""
    seen = Observation("e", state)  # type: ignore[arg-type]

    assert (seen.if_present, seen.if_absent) == pair
    assert seen.is_certain


def test_observation_keeps_the_likelihoods_given() -> None:
    """A doubtful observation is not certain."""
    seen = Observation("e", "present", 0.9, 0.05)

    assert (seen.if_present, seen.if_absent) == (0.9, 0.05)
    assert not seen.is_certain


@pytest.mark.parametrize("pair", [(0.0, 0.0), (1.1, 0.0), (0.5, -0.2), (float("nan"), 0.5)])
def test_observation_refuses_likelihoods_out_of_range(pair: tuple[float, float]) -> None:
    """Likelihoods outside 0 to 1, and two zeros, are refused with the finding's name."""
    with pytest.raises(OutOfRangeError, match="finding 'e'"):
        Observation("e", "present", *pair)


@pytest.mark.parametrize("telling", [-0.1, 1.0, float("nan")])
def test_evidence_refuses_a_telling_out_of_range(telling: float) -> None:
    """Nobody tells of everything, nor of less than nothing."""
    with pytest.raises(OutOfRangeError, match="telling"):
        Evidence(telling=telling)


@pytest.mark.parametrize("ratio", [float("inf"), float("-inf"), float("nan")])
def test_evidence_refuses_a_text_that_is_no_finite_weight(ratio: float) -> None:
    """Words alone neither prove a fault nor rule it out."""
    with pytest.raises(OutOfRangeError, match=r"fault 'f0'.*must be finite"):
        Evidence(text={"f0": ratio})


def test_tempered_observation_has_a_share_of_the_weight() -> None:
    """Half the weight of evidence is the root of the likelihood ratio; a certain look stays so."""
    seen = Observation("e", "present", 0.9, 0.1).tempered(0.5)

    assert seen.if_present / seen.if_absent == pytest.approx(3.0)
    assert Observation("e", "absent").tempered(0.5) == Observation("e", "absent")
