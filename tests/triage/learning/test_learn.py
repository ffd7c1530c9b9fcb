"""Sharing of credit: by hand, against the likelihood itself, and on drawn cases."""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.triage.learning.samples import make_lesson, make_small
from tests.triage.lessons import CAREFUL, draw_lessons, perturb, root_mean_square
from tests.triage.networks import make_fault, make_finding, make_layers12x15, make_network
from triage.errors import InputError
from triage.inference import LUCK, compute_posterior
from triage.knowledge import Knowledge, build_knowledge
from triage.learning import (
    BASIS_WEIGHT,
    BOUNDS,
    Lesson,
    Number,
    expert_beta,
    learn,
    list_numbers,
    revise,
    score_forecast,
)


def test_absent_finding_is_a_failure_of_every_link_and_of_the_leak() -> None:
    """Where nothing fired, nothing is shared."""
    both = frozenset({"f0", "f1"})

    tallies = learn(make_small(), [make_lesson(faults=both, findings={"e0": False})]).tallies

    for number in (
        Number("link", ("f0", "e0")),
        Number("link", ("f1", "e0")),
        Number("leak", ("e0",)),
    ):
        assert (tallies[number].successes, tallies[number].failures) == (0.0, 1.0)


def test_finding_not_looked_for_teaches_nothing() -> None:
    """An unanswered question is no answer."""
    tallies = learn(make_small(), [make_lesson(findings={"e1": True})]).tallies

    assert not any("e0" in number.ids for number in tallies)


def test_present_finding_shares_its_credit() -> None:
    """By the probability that each fired, given that one did; more than 1 in all, for both may."""
    knowledge = make_network([0.5, 0.5], [0.1], {(0, 0): 0.6, (1, 0): 0.3})
    lesson = make_lesson(faults=frozenset({"f0", "f1"}), findings={"e0": True})

    tallies = learn(knowledge, [lesson]).tallies
    network = revise(knowledge, learn(knowledge, [lesson])).network

    values = {
        Number("link", ("f0", "e0")): network.link[0, 0],
        Number("link", ("f1", "e0")): network.link[1, 0],
        Number("leak", ("e0",)): network.leak[0],
    }
    happens = 1.0 - math.prod(1.0 - value for value in values.values())
    for number, value in values.items():
        assert tallies[number].successes == pytest.approx(value / happens, abs=1e-5)
        assert tallies[number].successes + tallies[number].failures == pytest.approx(1.0)


def test_finding_without_a_link_teaches_the_leak_alone() -> None:
    """No link is invented."""
    knowledge = make_small()
    counts = learn(knowledge, [make_lesson(str(at), findings={"e2": True}) for at in range(40)])

    assert set(counts.tallies) == {
        Number("leak", ("e2",)),
        Number("prior", ("f0",)),
        Number("prior", ("f1",)),
    }
    assert len(revise(knowledge, counts).links) == len(knowledge.links)


def test_remedy_teaches_the_cure_of_the_confirmed_fault() -> None:
    """Failure counts whole; success is shared with luck; without a fault to cure, nothing."""
    knowledge = make_small()

    failed = learn(knowledge, [make_lesson(remedies={"mend": False})]).tallies
    cured = learn(knowledge, [make_lesson(remedies={"mend": True})]).tallies

    number = Number("cure", ("mend", "f0"))
    assert (failed[number].successes, failed[number].failures) == (0.0, 1.0)
    value = expert_beta(0.7, "memory").after(cured[number].successes, cured[number].failures).mean
    happens = 1.0 - (1.0 - LUCK) * (1.0 - value)
    assert cured[number].successes == pytest.approx(value / happens, abs=1e-5)
    assert Number("cure", ("mend", "f1")) not in failed


def test_lesson_counts_by_its_basis() -> None:
    """A cure counts whole, an accepted suggestion little."""
    number = Number("link", ("f0", "e0"))

    for basis, weight in BASIS_WEIGHT.items():
        tallies = learn(make_small(), [make_lesson(basis=basis, findings={"e0": False})]).tallies
        assert tallies[number].failures == pytest.approx(weight)
        assert tallies[Number("prior", ("f0",))].successes == pytest.approx(weight)


def test_prior_counts_every_verdict_in_which_a_fault_could_be_named() -> None:
    """Named is a success; not named, a failure."""
    lessons = [make_lesson("a"), make_lesson("b", faults=frozenset({"f1"})), make_lesson("c")]

    tallies = learn(make_small(), lessons).tallies

    named = tallies[Number("prior", ("f0",))]
    assert (named.successes, named.failures) == (2.0, 1.0)


def _slope(of: Callable[[float], float], value: float) -> float:
    """Return the derivative by the log odds, from central differences."""
    step = 1e-4
    odds = math.log(value / (1.0 - value))
    up, down = (1.0 / (1.0 + math.exp(-(odds + by))) for by in (step, -step))
    return (of(up) - of(down)) / (2.0 * step)


@pytest.mark.parametrize("risk", ["damp", "dry"])
def test_prior_under_a_risk_is_the_most_probable_one(risk: str) -> None:
    """The slope of posterior density by the log odds is 0, computed from the odds ratio itself."""
    knowledge = make_small()
    ratio = knowledge.risks[risk].odds["f0"]
    shown, hidden, plain = 9, 14, 5
    lessons = [make_lesson(f"s{at}", risks=(risk,)) for at in range(shown)]
    other = frozenset({"f1"})
    lessons += [make_lesson(f"h{at}", risks=(risk,), faults=other) for at in range(hidden)]
    lessons += [make_lesson(f"p{at}", faults=other) for at in range(plain)]
    beta = expert_beta(0.2, "memory")

    def log_density(prior: float) -> float:
        shifted = prior * ratio / (1.0 - prior + prior * ratio)
        return (
            shown * math.log(shifted)
            + hidden * math.log(1.0 - shifted)
            + (plain + beta.failures) * math.log(1.0 - prior)
            + beta.successes * math.log(prior)
        )

    learned = revise(knowledge, learn(knowledge, lessons)).network.prior[0]

    assert learned != pytest.approx(0.2, abs=0.01)
    assert _slope(log_density, float(learned)) == pytest.approx(0.0, abs=1e-3)


def test_links_and_leak_are_the_most_probable_ones() -> None:
    """Each slope of the posterior density is 0, computed from the noisy-OR itself."""
    knowledge = make_network([0.3, 0.2], [0.1], {(0, 0): 0.6, (1, 0): 0.3})
    seen = {("f0",): (7, 3), ("f1",): (2, 8), ("f0", "f1"): (6, 1)}
    lessons = [
        make_lesson(f"{faults}{is_so}{at}", faults=frozenset(faults), findings={"e0": is_so})
        for faults, pair in seen.items()
        for is_so, count in zip((True, False), pair, strict=True)
        for at in range(count)
    ]
    names = [Number("link", ("f0", "e0")), Number("link", ("f1", "e0")), Number("leak", ("e0",))]
    revised = list_numbers(revise(knowledge, learn(knowledge, lessons)))
    expert = list_numbers(knowledge)

    def log_density(values: Sequence[float]) -> float:
        first, second, leak = values
        total = 0.0
        for faults, (present, absent) in seen.items():
            # A fault that was not named may be there, as often as its prior says.
            unnamed = {"f0": 0.3 * 0.6, "f1": 0.2 * 0.3}
            parts = {"f0": first, "f1": second}
            none = (1.0 - leak) * math.prod(1.0 - parts[fault] for fault in faults)
            hid = none * math.prod(1.0 - unnamed[f] for f in unnamed if f not in faults)
            total += present * math.log(1.0 - hid) + absent * math.log(none)
        for name, value in zip(names, values, strict=True):
            beta = expert_beta(expert[name].value, "memory")
            total += beta.successes * math.log(value) + beta.failures * math.log(1.0 - value)
        return total

    found = [revised[name].value for name in names]
    for at, value in enumerate(found):

        def along(moved: float, at: int = at) -> float:
            return log_density([*found[:at], moved, *found[at + 1 :]])

        assert value != expert[names[at]].value
        assert _slope(along, value) == pytest.approx(0.0, abs=1e-3)


def test_unnamed_faults_keep_the_leak_from_rising() -> None:
    """A finding that a common other fault explains does not become a leak."""
    lonely = make_network([0.2, 0.001], [0.02], {(1, 0): 0.9})
    crowded = make_network([0.2, 0.4], [0.02], {(1, 0): 0.9})
    lessons = [make_lesson(str(at), findings={"e0": at % 3 == 0}) for at in range(60)]

    leaks = [revise(k, learn(k, lessons)).network.leak[0] for k in (lonely, crowded)]

    assert leaks[0] > 4 * leaks[1]


def test_order_of_lessons_does_not_matter() -> None:
    """The same cases make the same network."""
    lessons = [
        make_lesson(str(at), faults=frozenset({f"f{at % 2}", "f0"}), findings={"e0": at % 3 > 0})
        for at in range(20)
    ]

    first, second = (learn(make_small(), rows).tallies for rows in (lessons, lessons[::-1]))

    assert first.keys() == second.keys()
    for number, tally in first.items():
        assert second[number].successes == pytest.approx(tally.successes, abs=1e-9)


def test_contradictory_lessons_meet_in_the_middle() -> None:
    """Half present and half absent under one fault alone gives a half, and no error."""
    knowledge = make_network([0.2], [0.001], {(0, 0): 0.9})
    lessons = [make_lesson(str(at), findings={"e0": at % 2 == 0}) for at in range(4000)]

    assert revise(knowledge, learn(knowledge, lessons)).network.link[0, 0] == pytest.approx(
        0.5, abs=0.01
    )


def test_certain_numbers_stay() -> None:
    """What a built network holds as 0 or 1 is not learned, nor in the way."""
    knowledge = make_network([1.0, 0.3], [0.0], {(0, 0): 1.0, (1, 0): 0.4})
    lessons = [
        make_lesson("a", faults=frozenset({"f0", "f1"}), findings={"e0": True}),
        make_lesson("b", faults=frozenset({"f1"}), findings={"e0": True}),
    ]

    counts = learn(knowledge, lessons)
    network = revise(knowledge, counts).network

    assert {str(number) for number in counts.tallies} == {"prior f1", "link f1 e0"}
    assert (network.prior[0], network.leak[0], network.link[0, 0]) == (1.0, 0.0, 1.0)


def test_certain_prior_does_not_keep_others_from_settling() -> None:
    """A fault that is always there, in every verdict, beside one that is learned."""
    knowledge = make_network([1.0, 0.3, 0.0], [0.05], {(0, 0): 0.5})
    both = frozenset({"f0", "f1"})
    lessons = [make_lesson(str(at), faults=both) for at in range(4)]

    prior = revise(knowledge, learn(knowledge, lessons)).network.prior

    expected = expert_beta(0.3, "memory").after(4.0, 0.0).mean
    assert prior.tolist() == pytest.approx([1.0, expected, 0.0])


def test_learn_refuses_a_revision() -> None:
    """Lessons would count twice."""
    knowledge = make_small()
    revised = revise(knowledge, learn(knowledge, [make_lesson()]))

    with pytest.raises(InputError, match=r"is a revision; use the expert's, '[0-9a-f]{12}'"):
        learn(revised, [make_lesson()])


@given(
    st.lists(
        st.tuples(
            st.sets(st.sampled_from(["f0", "f1"]), min_size=1),
            st.dictionaries(st.sampled_from(["e0", "e1", "e2"]), st.booleans()),
            st.dictionaries(st.just("mend"), st.booleans()),
            st.sampled_from(["cured", "confirmed", "accepted"]),
            st.sets(st.sampled_from(["damp", "dry"])),
        ),
        max_size=30,
    )
)
def test_any_lessons_leave_numbers_within_bounds(rows: list[tuple[object, ...]]) -> None:
    """Whatever comes in, counts are sums of weights and numbers stay usable."""
    knowledge = make_small()
    lessons = [
        make_lesson(
            str(at),
            faults=frozenset(faults),  # type: ignore[call-overload]
            findings=findings,
            remedies=remedies,
            basis=basis,
            risks=tuple(sorted(risks)),  # type: ignore[call-overload]
        )
        for at, (faults, findings, remedies, basis, risks) in enumerate(rows)
    ]

    counts = learn(knowledge, lessons)

    total = sum(BASIS_WEIGHT[lesson.basis] for lesson in lessons)
    for number, tally in counts.tallies.items():
        assert tally.successes >= 0.0
        assert tally.failures >= 0.0
        # Under odds of 3 or 1/4 a verdict tells as much of the prior as up to four without them.
        most = 4.0 * total if number.kind == "prior" else total
        assert tally.successes + tally.failures <= most + 1e-9
    for number, stated in list_numbers(revise(knowledge, counts)).items():
        least, most = BOUNDS[number.kind]
        assert least <= stated.value <= most


def _mean_bits(network: Knowledge, rows: Sequence[tuple[object, frozenset[str]]]) -> float:
    losses = [
        score_forecast(compute_posterior(network, evidence), faults).bits  # type: ignore[arg-type]
        for evidence, faults in rows
    ]
    return float(np.mean(losses))


def test_learning_moves_towards_the_truth() -> None:
    """Held-out loss falls by more than half of what was lost, and priors and links come nearer."""
    expert = make_layers12x15()
    generator = np.random.default_rng(20)
    truth = perturb(expert, generator, 1.0)
    clinic = replace(CAREFUL, telling=0.0, looked=8)
    lessons = [row.lesson for row in draw_lessons(truth, expert, generator, 600, clinic)]
    held = [
        (row.evidence, row.faults) for row in draw_lessons(truth, expert, generator, 300, clinic)
    ]

    learned = revise(expert, learn(expert, lessons))

    before, after, best = (_mean_bits(network, held) for network in (expert, learned, truth))
    assert after < before - 0.5 * (before - best)
    for kind in ("prior", "link"):
        far, near = (root_mean_square(truth, k, kind) for k in (expert, learned))
        assert near < 0.8 * far


def _lessons_of_leader(count: int, basis: str) -> list[Lesson]:
    """Return lessons in which the leader was accepted although only the other fault was there."""
    return [
        make_lesson(str(at), findings={"e0": True, "e1": False}, basis=basis) for at in range(count)
    ]


def test_accepted_suggestions_hardly_confirm_themselves() -> None:
    """The odds of the leader rise by less than a third of what measured cures would do."""
    knowledge = make_network([0.2, 0.1], [0.02, 0.02], {(0, 0): 0.5, (1, 0): 0.5, (0, 1): 0.6})

    def shift(basis: str) -> float:
        prior = revise(knowledge, learn(knowledge, _lessons_of_leader(20, basis))).network.prior[0]
        return math.log(prior / (1.0 - prior)) - math.log(0.2 / 0.8)

    assert 0.0 < shift("accepted") < shift("cured") / 3


def test_fault_of_another_process_is_no_failure() -> None:
    """A fault that cannot occur in a case is not counted as not named."""
    knowledge = build_knowledge(
        faults=[make_fault("f0"), make_fault("v", process="VPP")], findings=[make_finding()]
    )

    tallies = learn(knowledge, [make_lesson()]).tallies

    assert set(tallies) == {Number("prior", ("f0",))}
