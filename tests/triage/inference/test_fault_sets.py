"""The most probable sets of faults: several processes, parts, limits, and giving up."""

from math import prod

import pytest

from tests.triage.networks import (
    layers12x15_evidence,
    make_evidence,
    make_fault,
    make_finding,
    make_layers12x15,
    make_network,
)
from triage.errors import OutOfRangeError
from triage.evidence import Evidence, Observation
from triage.inference import (
    MOST_SETS,
    FaultSet,
    _search,
    compute_joint,
    compute_posterior,
    list_explanations,
)
from triage.knowledge import Knowledge, Link, build_knowledge


def best_of_joint(knowledge: Knowledge, evidence: Evidence, limit: int) -> list[FaultSet]:
    """Return the best sets by listing all of them."""
    names = list(knowledge.faults)
    joint = compute_joint(knowledge, evidence)
    ranked = sorted(range(len(joint)), key=lambda at: -joint[at])[:limit]
    return [
        FaultSet(
            tuple(name for place, name in enumerate(names) if at >> place & 1),
            pytest.approx(joint[at], rel=1e-11),  # type: ignore[arg-type]
        )
        for at in ranked
    ]


def test_best_sets_of_the_reference_network_are_those_of_the_full_list() -> None:
    """Ten best of 4096 sets, in order."""
    knowledge, evidence = make_layers12x15(), layers12x15_evidence()

    found = list_explanations(knowledge, compute_posterior(knowledge, evidence), limit=10)

    assert list(found.sets) == best_of_joint(knowledge, evidence, 10)
    assert found.is_proven
    assert found.covered == pytest.approx(sum(entry.probability for entry in found.sets))
    assert found.no_fault == pytest.approx(compute_joint(knowledge, evidence)[0], rel=1e-11)


def test_without_evidence_the_best_set_is_no_fault() -> None:
    """Independent faults: nothing first, then the likeliest alone, then the next."""
    knowledge = make_network([0.2, 0.1, 0.05], [0.1], {})

    found = list_explanations(knowledge, compute_posterior(knowledge, make_evidence()), limit=3)

    assert [entry.faults for entry in found.sets] == [(), ("f0",), ("f1",)]
    assert found.no_fault == pytest.approx(0.8 * 0.9 * 0.95)
    assert found.missed == pytest.approx(0.8 * 0.9 * 0.05)


def test_parts_that_share_no_finding_are_joined() -> None:
    """Two faults behind one finding and one behind another: sets are those of the full list."""
    knowledge = make_network(
        [0.1, 0.2, 0.3, 0.05], [0.05, 0.01], {(0, 0): 0.9, (1, 0): 0.5, (2, 1): 0.8}
    )
    evidence = make_evidence(present=[0, 1])

    found = list_explanations(knowledge, compute_posterior(knowledge, evidence), limit=16)

    expected = best_of_joint(knowledge, evidence, 16)
    assert list(found.sets) == expected
    assert found.covered == pytest.approx(1.0)
    assert found.missed == pytest.approx(0.0, abs=1e-15)


def test_sets_of_probability_zero_are_not_listed() -> None:
    """A fault that must be there, and a finding only it can cause."""
    knowledge = make_network([1.0, 0.3], [0.0], {(0, 0): 0.5, (1, 0): 0.5})

    found = list_explanations(
        knowledge, compute_posterior(knowledge, make_evidence(present=[0])), limit=9
    )

    assert [entry.faults for entry in found.sets] == [("f0",), ("f0", "f1")]
    assert found.no_fault == 0.0


def test_finding_without_leak_is_never_left_unexplained() -> None:
    """The empty set has probability 0 and its neighbours are still found."""
    knowledge = make_network([0.1, 0.3], [0.0], {(0, 0): 0.9, (1, 0): 0.2})
    evidence = make_evidence(present=[0])

    found = list_explanations(knowledge, compute_posterior(knowledge, evidence), limit=9)

    assert list(found.sets) == best_of_joint(knowledge, evidence, 3)


@pytest.mark.parametrize("limit", [1, 2, 3, 8])
def test_unknown_process_mixes_the_sets_of_all(limit: int) -> None:
    """A set possible in either process gathers probability from both."""
    knowledge = build_knowledge(
        faults=[
            make_fault("melt", prior=0.3),
            make_fault("light", process="VPP", prior=0.4),
            make_fault("file", process="any", prior=0.2),
        ],
        findings=[make_finding("stops", process="any", leak=0.04)],
        links=[
            Link("melt", "stops", 0.3, "memory"),
            Link("light", "stops", 0.9, "memory"),
            Link("file", "stops", 0.7, "memory"),
        ],
    )
    evidence = Evidence(observations=(Observation("stops", "present"),))

    found = list_explanations(knowledge, compute_posterior(knowledge, evidence), limit=limit)

    # Of the eight sets, two hold faults of both processes and cannot be.
    assert list(found.sets) == best_of_joint(knowledge, evidence, min(limit, 6))
    assert found.is_proven


@pytest.mark.parametrize("limit", [0, MOST_SETS + 1])
def test_limit_out_of_range_is_refused(limit: int) -> None:
    """The message names the limit."""
    knowledge = make_network([0.1], [0.1], {})

    with pytest.raises(OutOfRangeError, match=f"{limit} sets .* 1 to {MOST_SETS}"):
        list_explanations(knowledge, compute_posterior(knowledge, make_evidence()), limit=limit)


@pytest.mark.parametrize("most_summed", [0, 500, 5000])
def test_giving_up_states_a_bound_that_holds(
    monkeypatch: pytest.MonkeyPatch, most_summed: int
) -> None:
    """A search cut short lists real sets, and nothing it missed beats the bound it states."""
    knowledge, evidence = make_layers12x15(), layers12x15_evidence()
    monkeypatch.setattr(_search, "MOST_SUMMED", most_summed)

    found = list_explanations(knowledge, compute_posterior(knowledge, evidence), limit=20)

    listed = {entry.faults for entry in found.sets}
    best = best_of_joint(knowledge, evidence, 60)
    by_faults = {entry.faults: entry.probability for entry in best}
    assert all(
        by_faults.get(entry.faults, entry.probability) == entry.probability for entry in found.sets
    )
    left = [entry.probability.expected for entry in best if entry.faults not in listed]  # type: ignore[attr-defined]
    assert max(left) <= found.missed * (1.0 + 1e-11)
    assert found.is_proven == (found.sets[-1].probability >= found.missed * (1.0 - 1e-11))


def test_many_findings_of_independent_faults_need_no_search() -> None:
    """Forty faults with a finding each are forty parts; the best set has them all."""
    count = 40
    knowledge = make_network([0.3] * count, [0.01] * count, {(at, at): 0.9 for at in range(count)})

    found = list_explanations(
        knowledge, compute_posterior(knowledge, make_evidence(present=range(count))), limit=2
    )

    there = 0.3 * (1.0 - 0.99 * 0.1)
    alone = there / (there + 0.7 * 0.01)
    assert len(found.sets[0].faults) == count
    assert found.sets[0].probability == pytest.approx(prod([alone] * count), rel=1e-11)
    assert len(found.sets[1].faults) == count - 1
