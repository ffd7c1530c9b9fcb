"""General-purpose libraries give the same posteriors and the same best set of faults."""

import math
from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, given, settings

from tests.triage.libraries import HAS_AGRUM, HAS_PGMPY, PgmpyNetwork, agrum_answer
from tests.triage.networks import (
    LAYERS12X15_LEAKS,
    LAYERS12X15_LINKS,
    LAYERS12X15_PRIORS,
    layers12x15_evidence,
    make_evidence,
    make_layers12x15,
    make_network,
)
from tests.triage.strategies import Drawn, networks
from triage.inference import compute_posterior, list_explanations

Needs = Callable[[str, bool], None]

# A library's own rounding; the engine is within 1e-12 of exact fractions.
AGREE = 1e-9
EVERY_PAIR = {(i, j): 0.1 + 0.1 * ((3 * i + 2 * j) % 9) for i in range(12) for j in range(15)}


@pytest.fixture
def agrum(needs: Needs) -> None:
    """Skip without PyAgrum, or fail where CI promises it."""
    needs("PyAgrum (the extra 'oracle')", HAS_AGRUM)


@pytest.fixture
def pgmpy(needs: Needs) -> None:
    """Skip without pgmpy, or fail where CI promises it."""
    needs("pgmpy (the extra 'oracle')", HAS_PGMPY)


@given(networks(most_faults=9, most_findings=9))
@settings(
    deadline=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
@pytest.mark.usefixtures("agrum")
def test_posteriors_are_those_of_pyagrum(drawn: Drawn) -> None:
    """Any network, any findings seen surely or with doubt."""
    evidence, expected = agrum_answer(drawn.priors, drawn.leaks, drawn.links, drawn.pairs)

    posterior = compute_posterior(drawn.knowledge, drawn.evidence)

    assert math.exp(posterior.log_evidence) == pytest.approx(evidence, rel=AGREE)
    assert list(posterior.chances.values()) == pytest.approx(expected, abs=AGREE)


@pytest.mark.usefixtures("pgmpy")
def test_reference_network_is_that_of_pgmpy() -> None:
    """The 12 x 15 network: posteriors, and the most probable set of faults."""
    network = PgmpyNetwork(LAYERS12X15_PRIORS, LAYERS12X15_LEAKS, LAYERS12X15_LINKS)
    posterior = compute_posterior(make_layers12x15(), layers12x15_evidence())

    expected = network.posteriors((0, 3, 7, 10), (1, 4, 6, 12))
    best = network.best_set((0, 3, 7, 10), (1, 4, 6, 12))

    assert list(posterior.chances.values()) == pytest.approx(expected, abs=1e-12)
    assert list_explanations(make_layers12x15(), posterior).sets[0].faults == best


@pytest.mark.usefixtures("pgmpy")
def test_dense_network_is_that_of_pgmpy() -> None:
    """Every one of fifteen findings has all twelve causes, and all are looked at."""
    knowledge = make_network(LAYERS12X15_PRIORS, LAYERS12X15_LEAKS, EVERY_PAIR)
    present, absent = (0, 3, 7, 10), (1, 2, 4, 5, 6, 8, 9, 11, 12, 13, 14)
    network = PgmpyNetwork(LAYERS12X15_PRIORS, LAYERS12X15_LEAKS, EVERY_PAIR)

    posterior = compute_posterior(knowledge, make_evidence(present=present, absent=absent))

    expected = network.posteriors(present, absent)
    assert list(posterior.chances.values()) == pytest.approx(expected, abs=1e-12)
    best = list_explanations(knowledge, posterior, limit=1).sets[0]
    assert best.faults == network.best_set(present, absent)
