"""Where the bars of a drawing of weeks stand, in drawing units from the top left."""

from collections.abc import Sequence
from dataclasses import dataclass

from helpdesk.week.selectors import Flow

STEP = 46  # from week to week
LEFT, TOP, HEIGHT, FOOT = 40, 8, 130, 34
BAR = 15
LINES = 4  # rules across, without the one at nothing


@dataclass(frozen=True)
class Bar:
    """One bar."""

    x: float
    y: float
    height: float


@dataclass(frozen=True)
class WeekBars:
    """One week: its middle, and its two bars."""

    flow: Flow
    x: float
    came: Bar
    closed: Bar


@dataclass(frozen=True)
class Rule:
    """A rule across the drawing, at so many cases."""

    y: float
    count: int


@dataclass(frozen=True)
class Chart:
    """A drawing of some weeks."""

    width: int
    height: int
    right: int
    foot: int
    weeks: Sequence[WeekBars]
    rules: Sequence[Rule]


def draw_flow(flow: Sequence[Flow]) -> Chart:
    """Return where everything stands in the drawing of some weeks."""
    top = _round_up(max([1, *(week.came for week in flow), *(week.closed for week in flow)]))
    right = LEFT + STEP * len(flow)
    weeks = []
    for number, week in enumerate(flow):
        x = LEFT + STEP * (number + 0.5)
        weeks.append(WeekBars(week, x, _bar(week.came, top, x - BAR), _bar(week.closed, top, x)))
    return Chart(
        width=right + 4,
        height=TOP + HEIGHT + FOOT,
        right=right,
        foot=TOP + HEIGHT,
        weeks=weeks,
        rules=[Rule(_y(top * n / LINES, top), top * n // LINES) for n in range(LINES + 1)],
    )


def _bar(count: int, top: int, x: float) -> Bar:
    y = _y(count, top)
    return Bar(x=x, y=y, height=round(TOP + HEIGHT - y, 1))


def _y(count: float, top: int) -> float:
    return round(TOP + HEIGHT * (1 - count / top), 1)


def _round_up(count: int) -> int:
    """Return the next number that is 1, 2 or 4 times 4, 40, 400 …, so that rules are whole."""
    size = LINES
    while True:
        for times in (1, 2, 4):
            if count <= size * times:
                return size * times
        size *= 10
