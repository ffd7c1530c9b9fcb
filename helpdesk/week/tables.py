"""The clock of the week as a table for spreadsheets."""

from collections.abc import Iterator, Sequence

from helpdesk.core.tables import Cell, write_table
from helpdesk.week.figures import Figure, Part
from helpdesk.week.selectors import Week

HEADER = ("group", "name", "figure", "value", "unit", "of", "meaning")
NOT_REACHED = "not reached yet"
TOO_FEW = "too few"
DIGITS = 2  # of hours


def write_week(week: Week) -> str:
    """Return everything the page shows but the single cases, one figure a row."""
    return write_table(HEADER, _list_rows(week))


def _list_rows(week: Week) -> Iterator[Sequence[Cell]]:
    for group, figures in (("waits", week.figures), ("first answer by channel", week.channels)):
        for figure in figures:
            yield from _wait_rows(group, figure)
    for group, parts in (("shares", week.parts), ("told last", week.results)):
        for part in parts:
            yield group, part.name, "cases", _count(part), "cases", part.total, ""
    backlog = week.backlog
    yield "open now", "all", "cases", backlog.count, "cases", "", ""
    for name, value in (
        ("median age", backlog.middle_h),
        ("90th percentile of age", backlog.ninetieth_h),
        ("oldest", backlog.oldest_h),
    ):
        yield "open now", "all", name, _hours(value), "hours", backlog.count, ""
    for flow in week.flow:
        for name, count in (("came in", flow.came), ("closed", flow.closed), ("net", flow.net)):
            yield "weeks", flow.start.isoformat(), name, count, "cases", "", ""
    for load in week.loads:
        for name, count in (
            ("waits for us", load.ours),
            ("waits for the person", load.theirs),
            ("answered", load.answered),
        ):
            yield "open cases by reviewer", load.name, name, count, "cases", load.total, ""


def _wait_rows(group: str, figure: Figure) -> Iterator[Sequence[Cell]]:
    waits, meaning = figure.waits, figure.definition
    for name, value in (("median", waits.median), ("90th percentile", waits.ninetieth)):
        shown = _hours(value) if figure.is_shown else TOO_FEW
        yield group, figure.name, name, shown, "hours", waits.total, meaning
    ended: Cell = waits.ended if figure.is_shown else TOO_FEW
    yield group, figure.name, "over by now", ended, "cases", waits.total, meaning


def _count(part: Part) -> Cell:
    return part.count if part.is_shown else TOO_FEW


def _hours(value: float | None) -> Cell:
    return NOT_REACHED if value is None else round(value, DIGITS)
