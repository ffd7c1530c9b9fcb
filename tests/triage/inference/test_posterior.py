"""Posteriors of real cases: process, material, risks, guesses, remedies, sources."""

import math

import numpy as np
import pytest

from tests.triage.networks import (
    make_action,
    make_evidence,
    make_fault,
    make_finding,
    make_network,
)
from tests.triage.oracle import judge
from triage.errors import ImpossibleEvidenceError, OutOfRangeError, UnknownIdError
from triage.evidence import Evidence, Guess, Observation, TriedRemedy
from triage.inference import (
    GUESS_ODDS,
    HELPED,
    LUCK,
    MAX_WIDTH,
    PROCESS_PRIOR,
    Dropped,
    compute_answer_effects,
    compute_joint,
    compute_posterior,
)
from triage.knowledge import Knowledge, Link, Material, Risk, build_knowledge

PRIORS = [0.2, 0.1, 0.05]
LEAKS = [0.05, 0.02, 0.1]
LINKS = {(0, 0): 0.8, (1, 0): 0.3, (1, 1): 0.7, (2, 2): 0.6, (0, 2): 0.2}


def two_processes() -> Knowledge:
    """Return one fault and one finding of each process, and one of either."""
    return build_knowledge(
        faults=[
            make_fault("melt", prior=0.3, never_materials=("resin",)),
            make_fault("light", process="VPP", prior=0.2),
            make_fault("file", process="any", prior=0.1),
            make_fault("shrink", prior=0.2, only_materials=("styrenic",)),
        ],
        findings=[
            make_finding("strings", leak=0.1),
            make_finding("soft", process="VPP", leak=0.02),
            make_finding("stops", process="any", leak=0.04),
        ],
        links=[
            Link("melt", "strings", 0.8, "memory"),
            Link("light", "soft", 0.9, "memory"),
            Link("file", "stops", 0.7, "memory"),
            Link("shrink", "stops", 0.3, "memory"),
        ],
        materials=[
            Material(code, code, process, (), "memory")
            for code, process in (("styrenic", "MEX"), ("plain", "MEX"), ("resin", "VPP"))
        ],
    )


def test_no_evidence_leaves_the_priors() -> None:
    """Without evidence each posterior is its prior and P(evidence) is 1."""
    posterior = compute_posterior(make_network(PRIORS, LEAKS, LINKS), make_evidence())

    assert list(posterior.chances.values()) == pytest.approx(PRIORS)
    assert posterior.log_evidence == 0.0
    assert posterior.fit == 0.0
    assert posterior.ranked[0].prior == pytest.approx(0.2)


def test_ranking_breaks_ties_by_prior_then_id() -> None:
    """Equal posteriors keep a fixed order."""
    ranked = compute_posterior(make_network([0.1, 0.1, 0.1], [0.1], {}), make_evidence()).ranked

    assert [fault.id for fault in ranked] == ["f0", "f1", "f2"]


def test_faults_of_another_process_are_impossible() -> None:
    """With the process known the faults of the other stand last with exactly 0."""
    posterior = compute_posterior(two_processes(), Evidence(process="VPP"))

    assert posterior.chances["melt"] == 0.0
    assert posterior.chances["light"] == pytest.approx(0.2)
    assert posterior.chances["file"] == pytest.approx(0.1)
    assert {fault.id for fault in posterior.ranked[-2:]} == {"melt", "shrink"}


def test_findings_of_another_process_are_dropped_and_said() -> None:
    """A finding of the other process changes nothing and is listed."""
    seen = (Observation("soft", "present"), Observation("strings", "present"))

    posterior = compute_posterior(two_processes(), Evidence(process="MEX", observations=seen))

    alone = compute_posterior(two_processes(), Evidence(process="MEX", observations=seen[1:]))
    assert posterior.dropped == (Dropped("soft", "other process"),)
    assert posterior.chances == alone.chances


def test_unknown_process_is_mixed_exactly() -> None:
    """Without a process the posterior is the average over both, weighed by the evidence."""
    knowledge = two_processes()
    seen = (Observation("soft", "present"), Observation("strings", "absent"))

    posterior = compute_posterior(knowledge, Evidence(observations=seen))

    # MEX: soft by its leak alone. VPP: no fault is linked to strings.
    mex = PROCESS_PRIOR["MEX"] * 0.02 * 0.9 * (0.7 + 0.3 * 0.2)
    vpp = PROCESS_PRIOR["VPP"] * (1.0 - 0.98 * (0.8 + 0.2 * 0.1)) * 0.9
    assert math.exp(posterior.log_evidence) == pytest.approx(mex + vpp, rel=1e-12)
    assert posterior.processes["VPP"] == pytest.approx(vpp / (mex + vpp), rel=1e-12)
    light = 0.2 * (1.0 - 0.98 * 0.1) / (1.0 - 0.98 * (0.8 + 0.2 * 0.1))
    assert posterior.chances["light"] == pytest.approx(light * vpp / (mex + vpp), rel=1e-12)
    assert posterior.chances["file"] == pytest.approx(0.1, rel=1e-12)
    assert posterior.dropped == ()
    assert posterior.ranked[0].prior == pytest.approx(0.1 * 0.2)


def test_unknown_process_has_the_same_joint() -> None:
    """Listing all sets of faults mixes the processes alike."""
    knowledge = two_processes()
    evidence = Evidence(observations=(Observation("stops", "present"),))

    joint = compute_joint(knowledge, evidence)

    found = [joint.reshape(-1, 2, 1 << at)[:, 1].sum() for at in range(4)]
    expected = list(compute_posterior(knowledge, evidence).chances.values())
    assert found == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("material", "melt", "shrink"),
    [("plain", 0.3, 0.0), ("styrenic", 0.3, 0.2), ("resin", 0.0, 0.0), (None, 0.3, 0.2)],
)
def test_material_makes_faults_impossible(material: str | None, melt: float, shrink: float) -> None:
    """A fault is impossible with a material it never, or only others, occur with."""
    posterior = compute_posterior(two_processes(), Evidence(process="MEX", material=material))

    assert posterior.chances["melt"] == pytest.approx(melt)
    assert posterior.chances["shrink"] == pytest.approx(shrink)


def test_risks_and_guesses_multiply_prior_odds() -> None:
    """Each risk counts once, each guess once, as a factor of the odds."""
    risk = Risk("r", "Risk", "Is it so?", "MEX", {"f0": 3.0}, "memory")
    knowledge = make_network(PRIORS, LEAKS, LINKS, risks=[risk])
    evidence = make_evidence(risks=("r", "r"), guesses=(Guess("f0"), Guess("f0"), Guess("f1")))

    chances = compute_posterior(knowledge, evidence).chances

    assert chances["f0"] / (1.0 - chances["f0"]) == pytest.approx(0.25 * 3.0 * GUESS_ODDS)
    assert chances["f1"] / (1.0 - chances["f1"]) == pytest.approx(GUESS_ODDS / 9.0)
    assert chances["f2"] == pytest.approx(0.05)


@pytest.mark.parametrize(
    ("result", "pair"),
    [("no-change", (0.0, 1.0)), ("cured", (1.0, 0.0)), ("helped", HELPED), ("unknown", (1.0, 1.0))],
)
def test_tried_remedy_is_a_finding_of_its_own(result: str, pair: tuple[float, float]) -> None:
    """Trying a remedy counts like a finding with its cure probabilities as links."""
    action = make_action("a0", cures={"f0": 0.9, "f2": 0.4})
    knowledge = make_network(PRIORS, LEAKS, LINKS, actions=[action])
    tried = (TriedRemedy("a0", result),)  # type: ignore[arg-type]

    posterior = compute_posterior(knowledge, make_evidence(present=[0], tried=tried))

    links = LINKS | {(0, 3): 0.9, (2, 3): 0.4}
    judged = judge(PRIORS, [*LEAKS, LUCK], links, {0: (1.0, 0.0), 3: pair})
    expected = [float(part) for part in judged.posterior]
    assert list(posterior.chances.values()) == pytest.approx(expected, rel=1e-12)


def test_silence_is_the_absence_of_being_told() -> None:
    """What is not mentioned counts as a told finding that is absent, thinned by the telling."""
    knowledge = make_network(PRIORS, LEAKS, LINKS)

    posterior = compute_posterior(knowledge, make_evidence(present=[0], telling=0.4))

    # Findings e1 and e2 are not mentioned; 3 and 4 stand for their being told.
    told = {(fault, finding + 2): 0.4 * p for (fault, finding), p in LINKS.items() if finding}
    leaks = [*LEAKS, 0.4 * LEAKS[1], 0.4 * LEAKS[2]]
    pairs = {0: (1.0, 0.0), 3: (0.0, 1.0), 4: (0.0, 1.0)}
    judged = judge(PRIORS, leaks, LINKS | told, pairs)
    expected = [float(part) for part in judged.posterior]
    assert list(posterior.chances.values()) == pytest.approx(expected, rel=1e-12)
    assert math.exp(posterior.log_evidence) == pytest.approx(float(judged.evidence), rel=1e-12)


def test_silence_about_circumstances_and_measures_says_nothing() -> None:
    """Only what shows by itself is expected to be told."""
    knowledge = build_knowledge(
        faults=[make_fault("f0", prior=0.2)],
        findings=[make_finding("e0", kind="measure"), make_finding("e1", kind="circumstance")],
        links=[Link("f0", "e0", 0.8, "m"), Link("f0", "e1", 0.8, "m")],
    )

    posterior = compute_posterior(knowledge, Evidence(process="MEX", telling=0.4))

    assert posterior.chances["f0"] == pytest.approx(0.2)
    assert posterior.log_evidence == 0.0


def test_the_last_result_of_a_remedy_counts_once() -> None:
    """Saying twice that nothing changed does not count twice; "unknown" does not erase."""
    action = make_action("a0", cures={"f0": 0.9})
    knowledge = make_network(PRIORS, LEAKS, LINKS, actions=[action])
    once = (TriedRemedy("a0", "no-change"),)
    twice = (TriedRemedy("a0", "helped"), *once, *once, TriedRemedy("a0", "unknown"))

    found = compute_posterior(knowledge, make_evidence(tried=twice)).chances

    assert found == compute_posterior(knowledge, make_evidence(tried=once)).chances


def test_repeating_within_a_source_adds_nothing_but_another_source_does() -> None:
    """The strongest word of a source counts; pairs of different sources multiply."""
    knowledge = make_network(PRIORS, LEAKS, LINKS)
    said = Observation("e0", "present", 0.8, 0.2, source="text")
    hedged = Observation("e0", "present", 0.6, 0.3, source="text")
    seen = Observation("e0", "present", 0.9, 0.3, source="photo")

    repeated = compute_posterior(
        knowledge, Evidence(process="MEX", observations=(hedged, said, hedged, seen))
    )

    judged = judge(PRIORS, LEAKS, LINKS, {0: (0.8 * 0.9, 0.2 * 0.3)})
    expected = [float(part) for part in judged.posterior]
    assert list(repeated.chances.values()) == pytest.approx(expected, rel=1e-12)


def test_a_certain_word_outweighs_a_doubtful_one_of_the_same_source() -> None:
    """A reviewer who marks a finding after doubting it is taken at the mark."""
    knowledge = make_network(PRIORS, LEAKS, LINKS)
    marked = Observation("e0", "present", source="reviewer")
    doubted = Observation("e0", "present", 0.6, 0.3, source="reviewer")

    found = [
        compute_posterior(knowledge, Evidence(process="MEX", observations=seen)).chances
        for seen in ((marked,), (doubted, marked), (marked, doubted))
    ]

    assert found[0] == found[1] == found[2]


def test_contradictory_certainties_are_dropped_and_said() -> None:
    """Surely present and surely absent at once says nothing."""
    knowledge = make_network(PRIORS, LEAKS, LINKS)

    posterior = compute_posterior(knowledge, make_evidence(present=[0], absent=[0]))

    assert posterior.dropped == (Dropped("e0", "contradictory"),)
    assert list(posterior.chances.values()) == pytest.approx(PRIORS)


def test_likelihoods_that_are_equal_say_nothing() -> None:
    """A pair of equal likelihoods changes P(evidence) only."""
    knowledge = make_network(PRIORS, LEAKS, LINKS)

    posterior = compute_posterior(knowledge, make_evidence(soft={0: (0.25, 0.25)}))

    assert math.exp(posterior.log_evidence) == pytest.approx(0.25)
    assert list(posterior.chances.values()) == pytest.approx(PRIORS)


def test_fit_is_low_when_only_coincidence_explains() -> None:
    """A finding no fault is linked to leaves the fit at 0; one a fault explains raises it."""
    knowledge = make_network([0.2], [0.05, 0.05], {(0, 0): 0.9})

    unexplained = compute_posterior(knowledge, make_evidence(present=[1])).fit
    explained = compute_posterior(knowledge, make_evidence(present=[0])).fit

    assert unexplained == pytest.approx(0.0, abs=1e-12)
    assert explained == pytest.approx(math.log((1.0 - 0.95 * (0.8 + 0.2 * 0.1)) / 0.05))


def test_fifteen_present_findings_lose_no_digits() -> None:
    """A dense network with fifteen findings present agrees with exact fractions."""
    priors = [0.01 + 0.02 * at for at in range(8)]
    leaks = [0.001 * (1 + at % 5) for at in range(15)]
    links = {(i, j): 0.05 + 0.9 * ((7 * i + 3 * j) % 11) / 11 for i in range(8) for j in range(15)}
    judged = judge(priors, leaks, links, dict.fromkeys(range(15), (1.0, 0.0)))

    posterior = compute_posterior(
        make_network(priors, leaks, links), make_evidence(present=range(15))
    )

    expected = [float(part) for part in judged.posterior]
    assert list(posterior.chances.values()) == pytest.approx(expected, rel=1e-13)
    assert math.exp(posterior.log_evidence) == pytest.approx(float(judged.evidence), rel=1e-13)


def test_impossible_evidence_is_refused() -> None:
    """A finding without leak that no possible fault explains cannot be present."""
    knowledge = make_network([0.0], [0.0], {(0, 0): 0.5})

    with pytest.raises(ImpossibleEvidenceError, match="probability 0"):
        compute_posterior(knowledge, make_evidence(present=[0]))
    with pytest.raises(ImpossibleEvidenceError, match="probability 0"):
        compute_joint(knowledge, make_evidence(present=[0]))


def test_impossible_evidence_is_noticed_inside_the_lattice() -> None:
    """A fault that must be there cannot leave its sure finding absent."""
    knowledge = make_network([1.0, 0.5], [0.0, 0.0], {(0, 0): 1.0, (1, 1): 0.5})

    with pytest.raises(ImpossibleEvidenceError, match="probability 0"):
        compute_posterior(knowledge, make_evidence(absent=[0], present=[1]))


@pytest.mark.parametrize(
    ("evidence", "message"),
    [
        (Evidence(process="MXE"), "unknown process 'MXE'; the nearest valid name is 'MEX'"),
        (Evidence(material="plane"), "unknown material 'plane'; the nearest valid name is 'plain'"),
        (Evidence(observations=(Observation("string", "present"),)), "nearest .* 'strings'"),
        (Evidence(risks=("zzz",)), "unknown risk 'zzz'$"),
        (Evidence(tried=(TriedRemedy("dry"),)), "unknown action 'dry'$"),
        (Evidence(guesses=(Guess("lights"),)), "unknown fault 'lights'; .* 'light'"),
    ],
)
def test_unknown_ids_are_refused_with_the_nearest(evidence: Evidence, message: str) -> None:
    """Every kind of id is checked, and the message names the nearest valid one."""
    with pytest.raises(UnknownIdError, match=message):
        compute_posterior(two_processes(), evidence)


def test_probability_of_an_unknown_fault_is_refused() -> None:
    """Asking for a fault that is not there names the nearest."""
    posterior = compute_posterior(two_processes(), Evidence())

    assert posterior.probability("file") == pytest.approx(0.1)
    with pytest.raises(UnknownIdError, match="'light'"):
        posterior.probability("lihgt")


def test_effects_of_an_unknown_finding_are_refused() -> None:
    """A question about an unknown finding names the nearest."""
    knowledge = two_processes()

    with pytest.raises(UnknownIdError, match="'strings'"):
        compute_answer_effects(knowledge, compute_posterior(knowledge, Evidence()), ["stings"])


def test_effects_with_unknown_process_average_out() -> None:
    """With both processes possible the answers still average to the posterior now."""
    evidence = Evidence(observations=(Observation("stops", "present"),))

    knowledge = two_processes()

    effects = compute_answer_effects(
        knowledge, compute_posterior(knowledge, evidence), ["soft", "strings"]
    )

    average = effects.present[:, None] * effects.if_present
    average += (1.0 - effects.present[:, None]) * effects.if_absent
    assert np.abs(average - effects.now).max() < 1e-12
    after = compute_posterior(
        two_processes(),
        Evidence(observations=(*evidence.observations, Observation("soft", "present"))),
    )
    assert effects.if_present[0] == pytest.approx(list(after.chances.values()), abs=1e-12)


def test_a_network_too_large_to_list_is_refused() -> None:
    """Listing stops at sixteen faults and says so."""
    with pytest.raises(OutOfRangeError, match=r"17 faults .* limit is 16"):
        compute_joint(make_network([0.1] * 17, [0.1], {}), make_evidence())


def dense(findings: int, *, leak: float = 0.05) -> Knowledge:
    """Return two faults linked to every finding, so that all bits are open at once."""
    links = {(i, j): 0.2 + 0.03 * ((i + j) % 20) for i in range(2) for j in range(findings)}
    return make_network([0.2, 0.1], [leak] * findings, links)


def test_beyond_the_width_the_least_telling_bits_are_left_out() -> None:
    """Two bits too many: the two that differ least are dropped, and the bound holds."""
    count = MAX_WIDTH + 2
    knowledge = dense(count)
    soft = {0: (0.5, 0.45), 1: (0.5, 0.4)} | dict.fromkeys(range(2, count), (0.9, 0.1))
    evidence = make_evidence(soft=soft)

    posterior = compute_posterior(knowledge, evidence)

    assert {entry.finding for entry in posterior.dropped} == {"e0", "e1"}
    assert {entry.reason for entry in posterior.dropped} == {"too many"}
    joint = _pairwise(knowledge, soft)
    errors = [abs(posterior.chances[f"f{at}"] - joint[at]) for at in range(2)]
    assert 0.0 < max(errors) <= posterior.error_bound < 0.2


def test_a_bit_without_a_limit_makes_the_bound_honest() -> None:
    """Leaving out a finding that only a fault can cause bounds nothing: the bound says so."""
    knowledge = dense(MAX_WIDTH + 1, leak=0.0)

    posterior = compute_posterior(
        knowledge, make_evidence(soft=dict.fromkeys(range(MAX_WIDTH + 1), (1.0, 0.0)))
    )

    assert len(posterior.dropped) == 1
    largest = max(max(chance, 1.0 - chance) for chance in posterior.chances.values())
    assert posterior.error_bound == pytest.approx(largest)


def _pairwise(knowledge: Knowledge, soft: dict[int, tuple[float, float]]) -> list[float]:
    """Return the posteriors of two faults from their four joint states."""
    network = knowledge.network
    states = []
    for there in ((0, 0), (0, 1), (1, 0), (1, 1)):
        chance = math.prod(
            prior if is_there else 1.0 - prior
            for prior, is_there in zip(network.prior, there, strict=True)
        )
        for at, (yes, no) in soft.items():
            kept = [1.0 - link for link, on in zip(network.link[:, at], there, strict=True) if on]
            absent = (1.0 - network.leak[at]) * math.prod(kept)
            chance *= yes * (1.0 - absent) + no * absent
        states.append(chance)
    total = sum(states)
    return [(states[2] + states[3]) / total, (states[1] + states[3]) / total]


def test_text_as_a_whole_multiplies_prior_odds() -> None:
    """With nothing else known the posterior odds are the prior's times the ratio."""
    knowledge = make_network([0.2, 0.1], [0.05], {(0, 0): 0.8})
    evidence = Evidence(process="MEX", text={"f0": math.log(3.0)})

    chances = compute_posterior(knowledge, evidence).chances

    assert chances["f0"] / (1.0 - chances["f0"]) == pytest.approx(3.0 * 0.2 / 0.8)
    assert chances["f1"] == pytest.approx(0.1)


def test_text_about_an_unknown_fault_is_refused() -> None:
    knowledge = make_network([0.2, 0.1], [0.05], {(0, 0): 0.8})

    with pytest.raises(UnknownIdError, match="unknown fault 'f9'"):
        compute_posterior(knowledge, Evidence(text={"f9": 1.0}))
