"""Where the months' shares stand in a drawing: whiskers for the interval, a mark for the share."""

from collections.abc import Sequence
from dataclasses import dataclass

from helpdesk.agreement.selectors import Month
from helpdesk.diagnosis.engine.statistics import Share

STEP = 64  # drawing units from month to month
LEFT, TOP, HEIGHT, FOOT = 44, 10, 160, 34
APART = 9  # from the middle of a month to each of its two marks
GRID = (0, 25, 50, 75, 100)


@dataclass(frozen=True)
class Whisker:
    """One share: the middle across, the mark's height, the ends of its interval."""

    x: float
    y: float
    top: float
    length: float


@dataclass(frozen=True)
class Column:
    """One month: its middle, and the two shares."""

    month: Month
    x: float
    first: Whisker
    among: Whisker


@dataclass(frozen=True)
class GridLine:
    """A rule across the drawing, at so many in a hundred."""

    y: float
    percent: int


@dataclass(frozen=True)
class Chart:
    """A drawing of several months, in drawing units from the top left."""

    width: int
    height: int
    right: int
    foot: int
    columns: Sequence[Column]
    grid: Sequence[GridLine]


def draw_months(months: Sequence[Month]) -> Chart:
    """Return where everything stands in the drawing of some months."""
    right = LEFT + STEP * len(months)
    columns = []
    for number, month in enumerate(months):
        x = LEFT + STEP * (number + 0.5)
        columns.append(
            Column(month, x, _whisker(month.first, x - APART), _whisker(month.among, x + APART))
        )
    return Chart(
        width=right + 4,
        height=TOP + HEIGHT + FOOT,
        right=right,
        foot=TOP + HEIGHT,
        columns=columns,
        grid=[GridLine(_y(percent / 100), percent) for percent in GRID],
    )


def _whisker(share: Share, x: float) -> Whisker:
    top = _y(share.high)
    return Whisker(x=x, y=_y(share.value), top=top, length=round(_y(share.low) - top, 1))


def _y(value: float) -> float:
    """Return the height of a share, counted from the top."""
    return round(TOP + HEIGHT * (1 - value), 1)
