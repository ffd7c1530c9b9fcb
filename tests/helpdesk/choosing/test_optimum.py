"""The chosen set is the best there is: held against every set of small made-up desks."""

import itertools
import random
import time
from dataclasses import replace
from typing import Any

import pytest

from helpdesk.choosing import optimum
from helpdesk.choosing.errors import ChoosingInputError, OutOfTimeError
from helpdesk.choosing.optimum import choose, find_best, find_margins
from helpdesk.choosing.values import PROVEN, Option, Reward, Rules
from helpdesk.choosing.worth import keeps_rules, sum_worth

REWARDS = {"family": Reward(1500, 500), "process": Reward(1000), "machine": Reward(800, 300)}
INSTANCES = 260


def draw_option(number, draw, *, worths=(100, 10_000), barred=0.1):
    """Return a made-up option; a case may have two families of fault."""
    families = draw.sample(["motion", "thermal", "resin", "design"], draw.choice([1, 1, 1, 2]))
    traits = {("family", name) for name in families}
    traits |= {("process", draw.choice("MV")), ("machine", draw.choice("abc"))}
    return Option(
        id=number,
        seconds=draw.randint(30, 300),
        worth=draw.randint(*worths),
        traits=frozenset(traits),
        people=frozenset(draw.sample(range(5), draw.choice([0, 1, 1, 2]))),
        is_barred=draw.random() < barred,
    )


def draw_desk(seed, *, worths=(100, 10_000)):
    """Return small made-up options and rules, some of which nothing can keep to."""
    draw = random.Random(seed)  # noqa: S311 - repeatable on purpose
    count = draw.randint(0, 10)
    options = [draw_option(number, draw, worths=worths) for number in range(1, count + 1)]
    numbers = [option.id for option in options]
    rules = Rules(
        seconds=draw.choice([0, 60, 200, 400, 700, 1200]),
        rewards=REWARDS,
        most_per_person=draw.randint(1, 2),
        least_families=draw.randint(0, 4),
        must=frozenset(draw.sample(numbers, min(count, draw.choice([0, 0, 0, 1, 2])))),
        never=frozenset(draw.sample(numbers, min(count, draw.choice([0, 0, 1, 2])))),
    )
    return options, rules


def list_sets(options):
    """Return every set of the options but the empty one."""
    sizes = range(1, len(options) + 1)
    return itertools.chain.from_iterable(itertools.combinations(options, n) for n in sizes)


def find_by_hand(options, rules):
    """Return (worth, numbers) of the best set by going through all of them."""
    kept = [
        (-sum_worth(members, rules), tuple(sorted(option.id for option in members)))
        for members in list_sets(options)
        if keeps_rules(members, rules)
    ]
    return (-min(kept)[0], min(kept)[1]) if kept else None


@pytest.fixture(params=[0, 40], ids=["screened", "as it is"])
def screening(request, monkeypatch):
    """Let the options be screened whatever their number, and not at all."""
    monkeypatch.setattr(optimum, "LEAST_SCREENED", request.param)


@pytest.mark.parametrize("start", range(0, INSTANCES, 20))
@pytest.mark.usefixtures("screening")
def test_choose_equals_going_through_every_set(start):
    for seed in range(start, start + 20):
        options, rules = draw_desk(seed)

        chosen = choose(options, rules)

        wanted = find_by_hand(options, rules)
        found = chosen and (chosen.best.worth, chosen.best.chosen)
        assert found == wanted, seed
        if chosen:
            assert chosen.best.bound == chosen.best.worth
            assert chosen.best.status == PROVEN


def test_draws_hold_desks_where_nothing_fits_and_where_much_does():
    """A comparison over desks of one kind would say little."""
    found = [find_by_hand(*draw_desk(seed)) for seed in range(INSTANCES)]

    assert sum(1 for best in found if best is None) > 40
    assert sum(1 for best in found if best and len(best[1]) > 2) > 40


@pytest.mark.parametrize("start", range(0, 80, 20))
@pytest.mark.usefixtures("screening")
def test_equal_sets_go_to_the_lowest_numbers(start):
    """With only two worths most desks have several best sets."""
    for seed in range(start, start + 20):
        options, rules = draw_desk(seed, worths=(100, 101))
        options = [replace(option, seconds=100 + 50 * (option.id % 2)) for option in options]

        chosen = choose(options, rules)

        found = chosen and (chosen.best.worth, chosen.best.chosen)
        assert found == find_by_hand(options, rules), seed


@pytest.mark.parametrize("start", range(0, 60, 20))
@pytest.mark.usefixtures("screening")
def test_margins_equal_solving_without_each(start):
    for seed in range(start, start + 20):
        options, rules = draw_desk(seed)
        chosen = choose(options, rules)
        if chosen is None:
            continue
        for margin in chosen.margins:
            rest = [option for option in options if option.id != margin.id]

            other = find_by_hand(rest, replace(rules, must=rules.must - {margin.id}))

            if other is None:
                assert margin.worth is None
                continue
            assert margin.worth == chosen.best.worth - other[0], seed
            coming = {*chosen.best.chosen, *margin.comes_in} - {margin.id, *margin.goes_out}
            members = [option for option in options if option.id in coming]
            assert sum_worth(members, rules) == other[0]
            assert keeps_rules(members, replace(rules, must=rules.must - {margin.id}))


@pytest.mark.parametrize("seed", range(6))
def test_screening_loses_nothing_on_a_large_desk(seed, monkeypatch):
    draw = random.Random(seed)  # noqa: S311 - repeatable on purpose
    options = [draw_option(number, draw, barred=0.0) for number in range(1, 121)]
    rules = Rules(seconds=900, rewards=REWARDS, least_families=3)

    screened = choose(options, rules)
    monkeypatch.setattr(optimum, "LEAST_SCREENED", 1000)
    whole = choose(options, rules)

    assert screened is not None
    assert whole is not None
    assert screened.best == whole.best
    assert [m.worth for m in screened.margins] == [m.worth for m in whole.margins]


def test_order_of_the_options_changes_nothing():
    options, rules = draw_desk(7)
    draw = random.Random(1)  # noqa: S311 - repeatable on purpose
    wanted = choose(options, rules)

    for _ in range(5):
        draw.shuffle(options)
        assert choose(options, rules) == wanted


def make_option(number: int, **values: Any) -> Option:
    motion = frozenset({("family", "motion")})
    defaults: dict[str, Any] = {"seconds": 100, "worth": 1000, "traits": motion}
    return Option(id=number, **(defaults | values))


def test_must_have_that_costs_has_a_negative_margin():
    options = [make_option(1, worth=100), make_option(2, worth=5000)]

    chosen = choose(options, Rules(seconds=100, must=frozenset({1})))

    assert chosen is not None
    assert chosen.best.chosen == (1,)
    assert chosen.margins[0].worth == -4900
    assert chosen.margins[0].comes_in == (2,)


def test_nothing_to_choose_from_gives_nothing():
    assert choose([], Rules(seconds=1200)) is None


def test_one_case_alone_has_no_other_to_displace():
    chosen = choose([make_option(4)], Rules(seconds=100))

    assert chosen is not None
    assert chosen.best.chosen == (4,)
    assert chosen.margins[0].worth is None


@pytest.mark.parametrize("seconds", [-10, 0, 99])
def test_too_few_seconds_give_nothing(seconds):
    assert choose([make_option(1)], Rules(seconds=seconds)) is None


def test_endless_seconds_take_everything_allowed():
    options = [make_option(number) for number in range(1, 60)]

    best = find_best(options, Rules(seconds=10**7))

    assert best is not None
    assert len(best.chosen) == 59


@pytest.mark.parametrize(
    "rules",
    [
        Rules(seconds=50, must=frozenset({1})),
        Rules(seconds=500, must=frozenset({1}), never=frozenset({1})),
        Rules(seconds=500, must=frozenset({2})),
        Rules(seconds=500, least_families=2),
    ],
    ids=["longer than the slot", "must and never", "may not be shown", "too few families"],
)
def test_rules_nothing_keeps_to_give_nothing(rules):
    options = [make_option(1), make_option(2, is_barred=True)]

    assert choose(options, rules) is None


@pytest.mark.parametrize(
    ("options", "rules", "words"),
    [
        ([make_option(1), make_option(1)], Rules(seconds=9), "there twice"),
        ([make_option(1, seconds=0)], Rules(seconds=9), "needs a length"),
        ([make_option(1, worth=0)], Rules(seconds=9), "a worth of at least 1"),
        ([make_option(1)], Rules(seconds=9, must=frozenset({2})), "is not there to choose from"),
        ([make_option(1)], Rules(seconds=9, most_per_person=0), "at least one case"),
        (
            [make_option(1)],
            Rules(seconds=9, rewards={"family": Reward(1, 2)}),
            "second of a family",
        ),
    ],
)
def test_senseless_input_is_refused(options, rules, words):
    with pytest.raises(ChoosingInputError, match=words):
        find_best(options, rules)


def test_find_margins_names_what_leaves_with_it():
    """Without the long one, the two short ones do not come alone: a third goes."""
    options = [
        make_option(1, seconds=200, worth=5000),
        make_option(2, seconds=100, worth=1000, people=frozenset({8})),
        make_option(3, seconds=150, worth=2000, people=frozenset({8})),
    ]
    rules = Rules(seconds=300)
    best = find_best(options, rules)
    assert best is not None
    assert best.chosen == (1, 2)

    first = find_margins(options, rules, best)[0]

    assert first.worth == 4000
    assert first.comes_in == (3,)
    assert first.goes_out == (2,)


def test_choose_proves_the_best_and_says_what_there_was_no_time_for():
    options = [make_option(1, seconds=200, worth=5000), make_option(2, seconds=200, worth=4000)]
    rules = Rules(seconds=300)

    hurried = choose(options, rules, enough_s=0)

    assert hurried is not None
    assert hurried.best == find_best(options, rules)
    assert [(m.id, m.worth, m.is_known) for m in hurried.margins] == [(1, None, False)]
    assert not hurried.is_settled


def test_choose_with_time_enough_leaves_nothing_open():
    options = [make_option(1, seconds=200, worth=5000), make_option(2, seconds=200, worth=5000)]
    rules = Rules(seconds=300)

    unhurried = choose(options, rules, enough_s=60)

    assert unhurried is not None
    assert unhurried == choose(options, rules)
    assert unhurried.is_settled
    assert [(m.id, m.worth, m.is_known) for m in unhurried.margins] == [(1, 0, True)]


def test_maximise_stops_at_the_time_it_was_given():
    """Refuses, however little is left, and never takes what it has so far for the best."""
    draw = random.Random(13)  # noqa: S311 - repeatable on purpose
    options = [draw_option(n, draw, worths=(4900, 5000), barred=0) for n in range(1, 301)]

    with pytest.raises(OutOfTimeError, match=r"time left|no proof within"):
        find_best(options, Rules(seconds=1200, rewards=REWARDS), until_s=time.monotonic() + 1e-4)
