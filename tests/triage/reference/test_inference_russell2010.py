"""Russell & Norvig: the noisy-OR table of fever, and the burglary network."""

import math
from itertools import product

import pytest

from tests.triage.networks import make_evidence, make_network
from triage.evidence import Evidence, Observation
from triage.inference import compute_posterior
from triage.knowledge import Knowledge

pytestmark = pytest.mark.source("russell2010")

# Inhibitions are printed as 0.6, 0.2 and 0.1; a link is 1 less the inhibition.
LINKS = {(0, 0): 0.4, (1, 0): 0.8, (2, 0): 0.9}


def fever_network(priors: list[float]) -> Knowledge:
    """Return cold, flu and malaria as f0 to f2 and fever as e0, without a leak."""
    return make_network(priors, [0.0], LINKS)


@pytest.mark.parametrize(
    ("sick", "no_fever"),
    list(
        zip(
            product((0, 1), repeat=3),
            [1.0, 0.1, 0.2, 0.02, 0.6, 0.06, 0.12, 0.012],
            strict=True,
        )
    ),
)
def test_fever_table_is_reproduced(sick: tuple[int, int, int], no_fever: float) -> None:
    """P(no fever) and P(fever) of each row are the printed ones."""
    # A prior of 1 or 0 stands for "known sick" and "known well".
    knowledge = fever_network([float(ill) for ill in sick])

    absent = compute_posterior(knowledge, make_evidence(absent=[0])).log_evidence

    assert absent == pytest.approx(math.log(no_fever), abs=1e-12)
    if any(sick):
        present = compute_posterior(knowledge, make_evidence(present=[0])).log_evidence
        assert present == pytest.approx(math.log(1.0 - no_fever), abs=1e-12)


def test_posteriors_with_priors_are_those_of_enumeration() -> None:
    """With priors 0.2, 0.1 and 0.01 a fever gives the enumerated posteriors."""
    posterior = compute_posterior(fever_network([0.2, 0.1, 0.01]), make_evidence(present=[0]))

    assert math.exp(posterior.log_evidence) == pytest.approx(0.1612176, abs=1e-12)
    found = list(posterior.chances.values())
    assert found == pytest.approx([0.5619336847, 0.5071753952, 0.0567779200], abs=5.1e-11)


def test_burglary_given_both_calls() -> None:
    """P(burglary | John and Mary call) is the printed 0.284.

    The alarm's table (0.001, 0.29, 0.94, 0.95) is no noisy-OR, so the earthquake is summed out
    by hand. The two calls are doubtful looks at the alarm, each with the pair of its caller.
    """
    if_burglary = 0.002 * 0.95 + 0.998 * 0.94
    if_not = 0.002 * 0.29 + 0.998 * 0.001
    knowledge = make_network(
        [0.001], [if_not], {(0, 0): 1.0 - (1.0 - if_burglary) / (1.0 - if_not)}
    )
    calls = (
        Observation("e0", "present", 0.90, 0.05, source="John"),
        Observation("e0", "present", 0.70, 0.01, source="Mary"),
    )

    found = compute_posterior(knowledge, Evidence(process="MEX", observations=calls)).chances["f0"]

    assert found == pytest.approx(0.284, abs=5.1e-4)
    assert found == pytest.approx(0.2841718354, abs=5.1e-11)  # the same tables in pgmpy
