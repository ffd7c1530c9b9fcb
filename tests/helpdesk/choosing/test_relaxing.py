"""What to relax is the cheapest there is: held against every set of small made-up desks."""

import pytest

from helpdesk.choosing.optimum import choose
from helpdesk.choosing.relaxing import find_relaxation, measure
from helpdesk.choosing.values import Option, Rules
from tests.helpdesk.choosing.test_optimum import draw_desk, list_sets, make_option


@pytest.mark.parametrize("start", range(0, 200, 20))
def test_relaxation_equals_going_through_every_set(start):
    for seed in range(start, start + 20):
        options, rules = draw_desk(seed)
        shown = [option for option in options if not option.is_barred]
        ways = [measure(members, rules).cost for members in list_sets(shown)]

        found = find_relaxation(options, rules)

        assert (found and found.cost) == (min(ways) if ways else None), seed
        if found:
            assert (found.cost == 0) == (choose(options, rules) is not None), seed
            assert measure([o for o in options if o.id in found.chosen], rules) == found


def test_slot_too_short_by_a_little_is_told_in_seconds():
    found = find_relaxation([make_option(1, seconds=180)], Rules(seconds=150))

    assert found is not None
    assert found.over_s == 30
    assert found.count == 1


def test_contradiction_drops_the_must_have():
    rules = Rules(seconds=500, must=frozenset({1}), never=frozenset({1}))

    found = find_relaxation([make_option(1), make_option(2)], rules)

    assert found is not None
    assert found.drop_must == (1,)
    assert found.allow_never == ()


def test_too_many_families_wanted_are_counted():
    found = find_relaxation([make_option(1), make_option(2)], Rules(seconds=500, least_families=3))

    assert found is not None
    assert found.fewer_families == 2


def test_two_must_haves_of_one_person_raise_the_limit():
    options = [make_option(number, people=frozenset({5})) for number in (1, 2)]

    found = find_relaxation(options, Rules(seconds=500, must=frozenset({1, 2})))

    assert found is not None
    assert found.more_per_person == 1
    assert found.drop_must == ()


def test_nothing_that_may_be_shown_is_no_matter_of_rules():
    """Nobody is asked to relax what a person agreed to."""
    assert find_relaxation([make_option(1, is_barred=True)], Rules(seconds=500)) is None
    assert find_relaxation([], Rules(seconds=500)) is None


def test_must_have_that_may_not_be_shown_is_dropped():
    options = [make_option(1, is_barred=True), make_option(2)]

    found = find_relaxation(options, Rules(seconds=500, must=frozenset({1})))

    assert found is not None
    assert found.drop_must == (1,)
    assert found.chosen == (2,)


@pytest.mark.parametrize("seconds", [-100, 0])
def test_no_time_at_all_asks_for_the_shortest_case(seconds):
    options = [Option(id=n, seconds=60 * n, worth=100) for n in (1, 2, 3)]

    found = find_relaxation(options, Rules(seconds=seconds))

    assert found is not None
    assert found.over_s == 60 - seconds
