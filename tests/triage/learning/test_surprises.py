"""Links that may be missing."""

import importlib
import importlib.util
from collections.abc import Callable

import numpy as np
import pytest

from tests.triage.learning.samples import make_lesson, make_small
from tests.triage.lessons import CAREFUL, draw_lessons
from tests.triage.networks import make_layers12x15
from triage.learning import Surprise, chance_of_at_least, list_surprises


def test_surprise_is_a_finding_that_comes_with_a_fault_unlinked() -> None:
    """Eight of ten where the leak gives 4 of 100."""
    lessons = [make_lesson(str(at), findings={"e2": at < 8}) for at in range(10)]

    (found,) = list_surprises(make_small(), lessons)

    assert (found.fault, found.finding, found.lessons, found.present) == ("f0", "e2", 10, 8)
    assert found.expected == pytest.approx(0.4)
    assert found.chance == pytest.approx(
        sum(c * 0.04**k * 0.96 ** (10 - k) for k, c in ((8, 45), (9, 10), (10, 1)))
    )


def test_surprise_is_not_what_another_confirmed_fault_explains() -> None:
    """e1 comes from f0; that f1 was there too needs no link."""
    both = frozenset({"f0", "f1"})
    lessons = [make_lesson(str(at), faults=both, findings={"e1": at < 4}) for at in range(12)]

    assert list_surprises(make_small(), lessons) == ()


def test_surprise_needs_some_lessons() -> None:
    """Four cases are no pattern."""
    lessons = [make_lesson(str(at), findings={"e2": True}) for at in range(4)]

    assert list_surprises(make_small(), lessons) == ()


def test_surprise_does_not_come_from_accepted_suggestions() -> None:
    """The network chose those faults itself."""
    lessons = [make_lesson(str(at), findings={"e2": True}, basis="accepted") for at in range(10)]

    assert list_surprises(make_small(), lessons) == ()


def test_surprises_are_rare_where_no_link_is_missing() -> None:
    """Cases drawn from the network itself: at most one pair in six clinics."""
    knowledge = make_layers12x15()
    found: list[Surprise] = []
    for seed in range(6):
        generator = np.random.default_rng(seed)
        rows = draw_lessons(knowledge, knowledge, generator, 150, CAREFUL)
        found += list_surprises(knowledge, [row.lesson for row in rows])

    assert len(found) <= 1


def test_chance_of_at_least_agrees_with_scipy(needs: Callable[[str, bool], None]) -> None:
    """With equal trials it is the binomial tail."""
    needs("SciPy (the extra 'oracle')", importlib.util.find_spec("scipy") is not None)
    binom = importlib.import_module("scipy.stats").binom

    for count in range(13):
        assert chance_of_at_least(count, [0.3] * 12) == pytest.approx(binom.sf(count - 1, 12, 0.3))


def test_chance_of_at_least_takes_unequal_trials() -> None:
    """Two of two is the product; none or more is sure."""
    assert chance_of_at_least(2, [0.5, 0.1]) == pytest.approx(0.05)
    assert chance_of_at_least(1, [0.5, 0.1]) == pytest.approx(0.55)
    assert chance_of_at_least(0, []) == 1.0
