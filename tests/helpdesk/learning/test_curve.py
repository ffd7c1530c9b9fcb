"""The drawing of two running means and the table that says the same."""

import pytest

from helpdesk.learning.curve import HEIGHT, LEFT, MOST_POINTS, RIGHT, WIDTH, Curve, draw_curve


def points(line: str) -> list[tuple[float, float]]:
    """Return the points of a polyline."""
    return [(float(x), float(y)) for x, y in (pair.split(",") for pair in line.split())]


def drawn(expert: list[float], learned: list[float]) -> Curve:
    """Return a curve that is there."""
    curve = draw_curve(expert, learned)
    assert curve is not None
    return curve


def test_nothing_is_drawn_of_nothing() -> None:
    """Without a case that can judge there is no line."""
    assert draw_curve([], []) is None


def test_readings_are_running_means() -> None:
    """After one quarter, a half, three quarters and all, worked out by hand."""
    curve = drawn([4.0, 2.0, 3.0, 3.0], [4.0, 0.0, 2.0, 2.0])

    assert [(r.lessons, r.expert, r.learned) for r in curve.readings] == [
        (1, 4.0, 4.0),
        (2, 3.0, 2.0),
        (3, 3.0, 2.0),
        (4, 3.0, 2.0),
    ]
    assert curve.last.lessons == 4


def test_lower_loss_stands_lower() -> None:
    """Heights follow the scale, and every point lies inside the drawing."""
    curve = drawn([4.0, 2.0, 3.0], [2.0, 1.0, 1.5])
    expert, learned = points(curve.expert), points(curve.learned)

    assert all(below[1] > above[1] for above, below in zip(expert, learned, strict=True))
    assert [x for x, _ in expert] == sorted(x for x, _ in expert)
    for x, y in (*expert, *learned):
        assert 0 <= x <= WIDTH
        assert 0 <= y <= HEIGHT
    top = curve.up[-1]
    assert float(top.label) == 4.0
    assert expert[0][1] == pytest.approx(top.at, abs=0.05)


@pytest.mark.parametrize(
    ("most", "top"), [(0.9, 1.0), (1.0, 1.0), (3.2, 4.0), (7.0, 8.0), (11, 20)]
)
def test_scale_ends_at_a_round_number(most: float, top: float) -> None:
    """The least of 1, 2, 4, 6, 8 and 10 of a size that holds the largest mean."""
    assert float(drawn([most], [0.0]).up[-1].label) == top


def test_single_case_and_no_loss_are_drawn() -> None:
    """Neither divides by nothing."""
    curve = drawn([0.0], [0.0])

    assert len(points(curve.expert)) == 1
    assert curve.last.expert == 0.0


def test_long_line_is_thinned_and_keeps_its_ends() -> None:
    """A thousand cases are drawn with few points; the first and last stay."""
    losses = [float(i % 7) for i in range(1000)]
    curve = drawn(losses, losses)
    line = points(curve.expert)

    assert len(line) <= MOST_POINTS
    assert (line[0][0], line[-1][0]) == (LEFT, WIDTH - RIGHT)
    assert curve.last.expert == pytest.approx(sum(losses) / 1000)
