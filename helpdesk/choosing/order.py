"""The order of a show's parts by a stated rule: exact up to a number of parts, near it above.

Every order has a price; the cheapest is taken. Prices are judgements, and stand here only:

- open strong: for each point by which another case beats the first, a point;
- neighbours: two of the same family of fault, process or presenter side by side;
- no danger notice, and no case with a danger, comes last;
- end on a cure: the last case is one whose print came out well;
- a part with a fixed time is reached then: for each second early or late, a point.

Up to MOST_EXACT parts, dynamic programming over subsets finds the cheapest of all orders: what is
paid when a part is added depends on which parts came before only through their lengths and on the
last of them. Above, parts are put one by one where they cost least, and then moved or exchanged
until no single move or exchange pays. Ties go to the order in which the parts were given.
"""

from collections.abc import Sequence
from dataclasses import dataclass

MOST_EXACT = 10  # parts: 1,024 subsets
SAME_FAMILY = 30.0  # points, two side by side [judgement: desk, 2026-11]
SAME_PRESENTER = 15.0
SAME_PROCESS = 8.0
DANGER_LAST = 200.0
NO_CURE_LAST = 25.0
SECOND_OFF = 1.0  # a fixed time missed by a second


@dataclass(frozen=True)
class OrderPart:
    """A part to be put in order: a case, or a notice among the cases.

    `strength` is in points. `at_s` is when it must start, in seconds after the first of these
    parts, or None.
    """

    id: int
    seconds: int
    strength: float = 0.0
    family: str = ""
    process: str = ""
    presenter: str = ""
    is_case: bool = True
    is_danger: bool = False
    is_cure: bool = False
    at_s: int | None = None


@dataclass(frozen=True)
class Ordered:
    """An order, what it costs by the rule, and whether no order costs less."""

    ids: tuple[int, ...]
    cost: float
    is_exact: bool


def find_order(parts: Sequence[OrderPart]) -> Ordered:
    """Return the cheapest order of the parts."""
    if len(parts) <= MOST_EXACT:
        places, is_exact = _search_all(parts), True
    else:
        places, is_exact = _search_near(parts), False
    ordered = [parts[place] for place in places]
    return Ordered(
        ids=tuple(part.id for part in ordered), cost=price_order(ordered), is_exact=is_exact
    )


def price_order(ordered: Sequence[OrderPart]) -> float:
    """Return what an order costs by the rule."""
    total, before_s = 0.0, 0
    best = _best_strength(ordered)
    for place, part in enumerate(ordered):
        total += _price_start(part, before_s)
        total += _price_after(ordered[place - 1], part) if place else _price_first(part, best)
        before_s += part.seconds
    return total + (_price_last(ordered[-1]) if ordered else 0.0)


def _best_strength(parts: Sequence[OrderPart]) -> float:
    return max((part.strength for part in parts if part.is_case), default=0.0)


def _price_first(part: OrderPart, best: float) -> float:
    return best - (part.strength if part.is_case else 0.0)


def _price_start(part: OrderPart, before_s: int) -> float:
    return 0.0 if part.at_s is None else SECOND_OFF * abs(before_s - part.at_s)


def _price_after(part: OrderPart, following: OrderPart) -> float:
    """Return what two neighbours cost."""
    pairs = (
        (part.family, following.family, SAME_FAMILY),
        (part.process, following.process, SAME_PROCESS),
        (part.presenter, following.presenter, SAME_PRESENTER),
    )
    return sum(price for one, other, price in pairs if one and one == other)


def _price_last(part: OrderPart) -> float:
    return (DANGER_LAST if part.is_danger else 0.0) + (0.0 if part.is_cure else NO_CURE_LAST)


def _search_all(parts: Sequence[OrderPart]) -> list[int]:
    """Return the places of the cheapest order, the first of them by place where some are equal.

    `rest[held][last]` is the least that the parts outside `held` cost when `last` came last of it.
    """
    count = len(parts)
    if not count:
        return []
    everything = (1 << count) - 1
    lengths = [0] * (everything + 1)
    for held in range(1, everything + 1):
        low = (held & -held).bit_length() - 1
        lengths[held] = lengths[held & (held - 1)] + parts[low].seconds
    after = [[_price_after(one, other) for other in parts] for one in parts]
    rest = [[0.0] * count for _ in range(everything + 1)]
    for held in range(everything, 0, -1):
        for last in range(count):
            if not held >> last & 1:
                continue
            if held == everything:
                rest[held][last] = _price_last(parts[last])
                continue
            rest[held][last] = min(
                after[last][place]
                + _price_start(parts[place], lengths[held])
                + rest[held | 1 << place][place]
                for place in range(count)
                if not held >> place & 1
            )
    return _walk(parts, lengths, after, rest)


def _walk(
    parts: Sequence[OrderPart],
    lengths: Sequence[int],
    after: Sequence[Sequence[float]],
    rest: Sequence[Sequence[float]],
) -> list[int]:
    """Return the places along the cheapest way."""
    best = _best_strength(parts)
    order: list[int] = []
    held = 0
    while len(order) < len(parts):
        prices = {
            place: (after[order[-1]][place] if order else _price_first(parts[place], best))
            + _price_start(parts[place], lengths[held])
            + rest[held | 1 << place][place]
            for place in range(len(parts))
            if not held >> place & 1
        }
        cheapest = min(prices.values())
        order.append(next(place for place, price in prices.items() if price <= cheapest + 1e-9))
        held |= 1 << order[-1]
    return order


def _search_near(parts: Sequence[OrderPart]) -> list[int]:
    """Return the places of an order that no move and no exchange of one part betters."""

    def price(order: Sequence[int]) -> float:
        return price_order([parts[place] for place in order])

    order: list[int] = []
    for place in range(len(parts)):
        ways = [[*order[:at], place, *order[at:]] for at in range(len(order), -1, -1)]
        order = min(ways, key=price)
    while True:
        now = price(order)
        better = next((way for way in _neighbours(order) if price(way) < now - 1e-9), None)
        if better is None:
            return order
        order = better


def _neighbours(order: Sequence[int]) -> list[list[int]]:
    """Return the orders one move or one exchange away."""
    ways = []
    for start in range(len(order)):
        without = [*order[:start], *order[start + 1 :]]
        ways += [
            [*without[:end], order[start], *without[end:]]
            for end in range(len(order))
            if end != start
        ]
        for end in range(start + 1, len(order)):
            swapped = list(order)
            swapped[start], swapped[end] = swapped[end], swapped[start]
            ways.append(swapped)
    return ways
