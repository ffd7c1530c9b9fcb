"""The order of parts: the cheapest by the rule, and what the rule says."""

import itertools
import random

import pytest

from helpdesk.choosing.order import MOST_EXACT, OrderPart, find_order, price_order


def draw_parts(seed, count):
    draw = random.Random(seed)  # noqa: S311 - repeatable on purpose
    return [
        OrderPart(
            id=number,
            seconds=draw.randint(30, 240),
            strength=draw.randint(0, 900) / 10,
            family=draw.choice(["motion", "thermal", "resin", ""]),
            process=draw.choice(["MEX", "VPP"]),
            presenter=draw.choice(["Imke", "Teodor", ""]),
            is_case=draw.random() < 0.85,
            is_danger=draw.random() < 0.2,
            is_cure=draw.random() < 0.4,
            at_s=draw.randint(0, 900) if draw.random() < 0.2 else None,
        )
        for number in range(count)
    ]


@pytest.mark.parametrize("count", range(8))
def test_order_equals_going_through_every_order(count):
    for seed in range(20 if count < 7 else 6):
        parts = draw_parts(seed, count)
        ways = list(itertools.permutations(parts))
        least = min(price_order(way) for way in ways)

        found = find_order(parts)

        assert found.is_exact
        assert found.cost == pytest.approx(least, abs=1e-9)
        first = next(way for way in ways if price_order(way) <= least + 1e-9)
        assert found.ids == tuple(part.id for part in first)


def test_many_parts_are_ordered_by_moves_and_say_so():
    parts = draw_parts(3, MOST_EXACT + 4)

    found = find_order(parts)

    assert not found.is_exact
    assert sorted(found.ids) == [part.id for part in parts]
    by_id = {part.id: part for part in parts}
    ordered = [by_id[number] for number in found.ids]
    for one, other in itertools.combinations(range(len(ordered)), 2):
        swapped = list(ordered)
        swapped[one], swapped[other] = swapped[other], swapped[one]
        assert price_order(swapped) >= found.cost - 1e-9


def test_moves_come_close_to_the_cheapest(monkeypatch):
    """On orders that can be searched whole, the moves lose little."""
    exact = [find_order(draw_parts(seed, 8)).cost for seed in range(20)]
    monkeypatch.setattr("helpdesk.choosing.order.MOST_EXACT", 0)
    near = [find_order(draw_parts(seed, 8)).cost for seed in range(20)]

    assert all(n >= e - 1e-9 for n, e in zip(near, exact, strict=True))
    assert sum(near) <= sum(exact) * 1.1


def make_part(number, **values):
    return OrderPart(id=number, seconds=100, **values)


def test_strongest_opens_and_a_cure_ends():
    parts = [make_part(1, strength=10, is_cure=True), make_part(2, strength=90), make_part(3)]

    assert find_order(parts).ids == (2, 3, 1)


def test_danger_does_not_come_last():
    parts = [
        make_part(1, strength=90),
        make_part(2, is_case=False, is_danger=True, is_cure=True),
        make_part(3),
    ]

    assert find_order(parts).ids == (1, 2, 3)


@pytest.mark.parametrize("name", ["family", "process", "presenter"])
def test_neighbours_differ_where_they_can(name):
    values = ["same", "same", "other"]
    parts = [make_part(n, **{name: value}) for n, value in enumerate(values)]

    assert find_order(parts).ids == (0, 2, 1)


def test_fixed_time_is_kept():
    parts = [make_part(1, at_s=200, strength=90), make_part(2), make_part(3)]

    assert find_order(parts).ids == (2, 3, 1)


def test_nothing_to_order():
    assert find_order([]).ids == ()
