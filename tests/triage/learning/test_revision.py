"""Revisions: made again, taken back, compared."""

import math
from time import process_time

import pytest

from tests.triage.learning.samples import make_lesson, make_small
from tests.triage.networks import make_fault, make_finding, make_network
from triage.errors import InputError, OutOfRangeError
from triage.knowledge import Knowledge, build_knowledge, load_knowledge
from triage.learning import (
    BOUNDS,
    Counts,
    Number,
    NumberChange,
    Tally,
    compare,
    learn,
    list_numbers,
    revise,
)

PRIOR = Number("prior", ("f0",))


def _learn_some(knowledge: Knowledge) -> Counts:
    lessons = [make_lesson(str(at), findings={"e0": at % 4 > 0, "e1": False}) for at in range(12)]
    return learn(knowledge, lessons)


def test_revision_is_made_again_from_knowledge_and_counts() -> None:
    """The same in, the same out: numbers and version."""
    knowledge = make_small()
    counts = _learn_some(knowledge)

    first, second = revise(knowledge, counts), revise(make_small(), counts)

    assert list_numbers(first) == list_numbers(second)
    assert first.version == second.version


def test_revision_is_what_learning_settled_on() -> None:
    """Stored counts give back the network they came from, through JSON too."""
    knowledge = make_small()
    counts = _learn_some(knowledge)

    stored = revise(knowledge, Counts.from_json(counts.to_json(), knowledge))

    assert stored.version == revise(knowledge, counts).version


def test_revision_has_a_version_of_its_own() -> None:
    """Whoever sees it knows the expert's version and that it is not that."""
    knowledge = make_small()

    version = revise(knowledge, _learn_some(knowledge)).version

    assert version.startswith(knowledge.version + "+")
    assert len(version) <= 40  # as long as the desk stores


def test_revision_without_counts_is_the_knowledge() -> None:
    """Nothing learned, nothing changed."""
    knowledge = make_small()

    assert revise(knowledge, Counts()) is knowledge


def test_revision_is_taken_back_by_former_counts() -> None:
    """The former counts make the former revision, whatever came after."""
    knowledge = make_small()
    former = _learn_some(knowledge)
    before = revise(knowledge, former)

    revise(knowledge, former.merge(learn(knowledge, [make_lesson("later")])))

    assert revise(knowledge, former).version == before.version


def test_revision_keeps_everything_but_numbers() -> None:
    """Words, risks, links and order stay; the expert's knowledge is not touched."""
    knowledge = make_small()
    told = list_numbers(knowledge)

    revised = revise(knowledge, _learn_some(knowledge))

    assert list_numbers(knowledge) == told
    assert revised.network.fault_ids == knowledge.network.fault_ids
    assert [(x.fault, x.finding) for x in revised.links] == [
        (x.fault, x.finding) for x in knowledge.links
    ]
    assert (revised.risks, revised.faults["f0"].why) == (
        knowledge.risks,
        knowledge.faults["f0"].why,
    )


def test_revision_of_a_revision_is_refused() -> None:
    """The same lessons must not count twice."""
    knowledge = make_small()
    counts = _learn_some(knowledge)

    with pytest.raises(InputError, match="is a revision"):
        revise(revise(knowledge, counts), counts)


def test_revision_passes_over_unknown_numbers() -> None:
    """Counts kept for something the knowledge no longer holds do no harm."""
    knowledge = make_small()
    counts = Counts(1, {Number("link", ("f9", "e9")): Tally(5.0, 5.0)})

    assert list_numbers(revise(knowledge, counts)) == list_numbers(knowledge)


@pytest.mark.parametrize("tally", [Tally(1e9, 0.0), Tally(0.0, 1e9)])
def test_revision_stays_within_bounds(tally: Tally) -> None:
    """No number of cases makes anything certain."""
    knowledge = make_small()
    counts = Counts(1, dict.fromkeys(list_numbers(knowledge), tally))

    for number, stated in list_numbers(revise(knowledge, counts)).items():
        assert stated.value in BOUNDS[number.kind]


def test_revision_lets_an_expert_be_surer_than_its_bounds() -> None:
    """A number outside the bounds may stay, and is not pushed further out."""
    knowledge = build_knowledge(faults=[make_fault("f0", prior=0.9)], findings=[make_finding()])

    up = revise(knowledge, Counts(1, {PRIOR: Tally(1e6, 0.0)}))

    assert up.network.prior[0] == 0.9


@pytest.mark.parametrize("tally", [Tally(-1.0, 0.0), Tally(math.nan, 0.0)])
def test_revision_refuses_impossible_tallies(tally: Tally) -> None:
    """The error gives the counts and the limit."""
    with pytest.raises(OutOfRangeError, match="must be finite and 0 or more"):
        revise(make_small(), Counts(1, {PRIOR: tally}))


def test_compare_puts_the_largest_change_of_odds_first() -> None:
    """From 1 to 2 of 100 is more than from 50 to 60."""
    before = make_network([0.01, 0.5, 0.3], [0.05], {(0, 0): 0.8})
    after = make_network([0.02, 0.6, 0.3], [0.05], {(0, 0): 0.8})

    changes = compare(before, after)

    assert changes == (
        NumberChange(Number("prior", ("f0",)), 0.01, 0.02),
        NumberChange(Number("prior", ("f1",)), 0.5, 0.6),
    )
    assert changes[0].decibans == pytest.approx(10 * math.log10((0.02 / 0.98) / (0.01 / 0.99)))
    assert (changes[0].kind, changes[0].ids) == ("prior", ("f0",))


def test_compare_finds_nothing_between_equals() -> None:
    """A state of the knowledge does not differ from itself."""
    assert compare(make_small(), make_small()) == ()


def test_compare_leaves_out_what_only_one_holds() -> None:
    """A number that is new has no before."""
    assert compare(make_network([0.1], [0.05], {}), make_network([0.1, 0.2], [0.05], {})) == ()


def test_change_to_certainty_is_endless() -> None:
    """Only a built network holds 0 or 1."""
    assert NumberChange(PRIOR, 0.5, 1.0).decibans == math.inf
    assert NumberChange(PRIOR, 0.5, 0.0).decibans == -math.inf


def test_revision_of_the_whole_knowledge_is_quick() -> None:
    """Well below the 0.2 s in which a switch should take place."""
    knowledge = load_knowledge()
    counts = Counts(1, dict.fromkeys(list_numbers(knowledge), Tally(3.0, 2.0)))

    started = process_time()
    revised = revise(knowledge, counts)

    assert process_time() - started < 0.2
    assert len(compare(knowledge, revised)) > 1000
