"""More findings than can be summed: what is left out, and the bound that is stated."""

import pytest
from hypothesis import HealthCheck, given, settings

from tests.triage.networks import make_evidence, make_network
from tests.triage.strategies import Drawn, networks
from triage.evidence import Evidence, Observation
from triage.inference import (
    MAX_WIDTH,
    PROCESS_PRIOR,
    Dropped,
    _hypothesis,
    compute_posterior,
    list_explanations,
)
from triage.knowledge import Knowledge, load_knowledge


def crowd(present: int) -> Knowledge:
    """Return two faults that touch every one of some findings, so that all are open at once."""
    links = {(fault, finding): 0.5 for fault in (0, 1) for finding in range(present)}
    return make_network([0.2, 0.1], [0.1] * present, links)


def test_as_many_as_the_limit_are_exact() -> None:
    """Nothing is left out up to the limit."""
    posterior = compute_posterior(crowd(MAX_WIDTH), make_evidence(present=range(MAX_WIDTH)))

    assert posterior.error_bound == 0.0
    assert posterior.dropped == ()


def test_beyond_the_limit_the_least_telling_are_left_out_and_said() -> None:
    """Doubtful findings go before sure ones; what was left out is named with the reason."""
    count = MAX_WIDTH + 2
    doubts = {3: (0.55, 0.45), 7: (0.6, 0.4)}
    sure = [at for at in range(count) if at not in doubts]

    posterior = compute_posterior(crowd(count), make_evidence(present=sure, soft=doubts))

    assert set(posterior.dropped) == {Dropped("e3", "too many"), Dropped("e7", "too many")}
    assert 0.0 < posterior.error_bound < 1.0


def test_only_findings_that_make_it_too_wide_are_left_out() -> None:
    """A weak finding of another part of the network stays: leaving it out would not help."""
    count = MAX_WIDTH + 1
    links = {(fault, finding): 0.5 for fault in (0, 1) for finding in range(count)}
    knowledge = make_network([0.2, 0.1, 0.3], [0.1] * (count + 1), links | {(2, count): 0.01})

    posterior = compute_posterior(knowledge, make_evidence(present=range(count + 1)))

    assert [dropped.reason for dropped in posterior.dropped] == ["too many"]
    assert posterior.dropped[0].finding != f"e{count}"


@given(networks())
@settings(
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
@pytest.mark.parametrize("width", [0, 1, 2])
def test_the_stated_bound_holds(monkeypatch: pytest.MonkeyPatch, width: int, drawn: Drawn) -> None:
    """With the limit lowered, no posterior is further from brute force than the bound says."""
    monkeypatch.setattr(_hypothesis, "MAX_WIDTH", width)
    expected = [float(part) for part in drawn.judge().posterior]

    posterior = compute_posterior(drawn.knowledge, drawn.evidence)

    found = list(posterior.chances.values())
    assert found == pytest.approx(expected, abs=posterior.error_bound + 1e-12)
    assert (posterior.error_bound == 0.0) == (posterior.dropped == ())
    assert posterior.hypotheses[0].plan.width <= width


def test_another_order_is_tried_before_a_finding_is_left_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A network whose usual order opens three findings at once, and another only two."""
    links = [(0, 0), (0, 5), (1, 0), (1, 1), (2, 1), (2, 2), (3, 0), (4, 4), (5, 3), (5, 4), (6, 1)]
    links.append((6, 4))
    knowledge = make_network([0.1] * 7, [0.05] * 6, dict.fromkeys(links, 0.5))
    evidence = make_evidence(present=range(6))
    monkeypatch.setattr(_hypothesis, "MAX_WIDTH", 2)

    found = compute_posterior(knowledge, evidence)
    monkeypatch.setattr(_hypothesis, "MOST_STARTS", 0)
    usual = compute_posterior(knowledge, evidence)

    assert (found.error_bound, found.dropped) == (0.0, ())
    assert len(usual.dropped) == 1


@pytest.mark.parametrize("process", ["MEX", None])
def test_every_finding_at_once_is_answered(process: str | None) -> None:
    """All findings of the shipped knowledge present: a bounded frontier and a stated bound."""
    knowledge = load_knowledge()
    observations = tuple(
        Observation(name, "present") for name, finding in knowledge.findings.items()
    )
    evidence = Evidence(process=process, observations=observations)

    posterior = compute_posterior(knowledge, evidence)

    for hypothesis in posterior.hypotheses:
        assert hypothesis.plan.width <= MAX_WIDTH
        assert len(hypothesis.bits) > MAX_WIDTH
    assert set(posterior.processes) <= set(PROCESS_PRIOR)
    assert {dropped.reason for dropped in posterior.dropped} <= {"too many", "other process"}
    assert 0.0 < posterior.error_bound <= 1.0
    assert all(0.0 <= chance <= 1.0 for chance in posterior.chances.values())
    assert list_explanations(knowledge, posterior).sets
