"""The running log-loss of two sets of numbers as points of a drawing and rows of a table."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

WIDTH, HEIGHT = 640, 220  # units of the drawing
LEFT, RIGHT, TOP, BOTTOM = 44, 12, 12, 34  # room for the scales, units of the drawing
MOST_POINTS = 160  # a line of more is not told apart from one of these
TABLE_SHARES = (0.25, 0.5, 0.75, 1.0)  # of the lessons, where the table takes a reading
TICKS = 4


@dataclass(frozen=True)
class Tick:
    """A line of a scale: where it stands and what it says."""

    at: float
    label: str


@dataclass(frozen=True)
class Reading:
    """The mean log-loss after so many lessons, in bits a lesson."""

    lessons: int
    expert: float
    learned: float


@dataclass(frozen=True)
class Curve:
    """Two lines over the lessons in the order of their verdicts."""

    expert: str  # points of a polyline
    learned: str
    across: tuple[Tick, ...]
    up: tuple[Tick, ...]
    readings: tuple[Reading, ...]

    @property
    def last(self) -> Reading:
        """Return the reading after all lessons."""
        return self.readings[-1]


def draw_curve(expert: Sequence[float], learned: Sequence[float]) -> Curve | None:
    """Return the lines of the mean losses after each lesson, in bits; None without a lesson."""
    if not expert:
        return None
    means = [_running_means(losses) for losses in (expert, learned)]
    most = _nice_top(max(max(line) for line in means))
    places = _thin(len(expert))
    lines = [
        " ".join(f"{_x(i, len(line)):.1f},{_y(line[i], most):.1f}" for i in places)
        for line in means
    ]
    marks = sorted({max(1, round(share * len(expert))) for share in TABLE_SHARES})
    return Curve(
        expert=lines[0],
        learned=lines[1],
        across=tuple(Tick(_x(n - 1, len(expert)), str(n)) for n in marks),
        up=tuple(
            Tick(_y(most * step / TICKS, most), f"{most * step / TICKS:g}")
            for step in range(TICKS + 1)
        ),
        readings=tuple(Reading(n, means[0][n - 1], means[1][n - 1]) for n in marks),
    )


def _running_means(losses: Sequence[float]) -> list[float]:
    """Return the mean of the first, of the first two, and so on."""
    means, total = [], 0.0
    for count, loss in enumerate(losses, start=1):
        total += loss
        means.append(total / count)
    return means


def _thin(count: int) -> list[int]:
    """Return at most so many places of a line, its ends among them."""
    if count <= MOST_POINTS:
        return list(range(count))
    return sorted({round(i * (count - 1) / (MOST_POINTS - 1)) for i in range(MOST_POINTS)})


def _nice_top(most: float) -> float:
    """Return the end of a scale that holds a value and is easily cut in four."""
    if most <= 0:
        return 1.0
    size = 10.0 ** math.floor(math.log10(most))
    return next(size * step for step in (1, 2, 4, 6, 8, 10) if size * step >= most)


def _x(place: int, count: int) -> float:
    """Return where a lesson stands; a single one stands at the end."""
    share = place / (count - 1) if count > 1 else 1.0
    return LEFT + share * (WIDTH - LEFT - RIGHT)


def _y(value: float, most: float) -> float:
    """Return the height of a value."""
    return HEIGHT - BOTTOM - value / most * (HEIGHT - BOTTOM - TOP)
