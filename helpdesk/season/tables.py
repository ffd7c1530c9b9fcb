"""A season as a table for spreadsheets."""

from django.utils import timezone

from helpdesk.core.tables import Cell, write_table
from helpdesk.season.selectors import Season, Shown
from helpdesk.season.subjects import family_of, faults_of, name_fault, name_process

HEADER = (
    "episode",
    "date",
    "title",
    "part",
    "second",
    "case",
    "faults",
    "families",
    "confirmed",
    "process",
    "printer",
    "material",
    "audience question",
)


def write_season(season: Season) -> str:
    """Return a row for each print shown, oldest show first."""
    return write_table(HEADER, (_row(one) for one in reversed(season.shown)))


def _row(one: Shown) -> list[Cell]:
    faults = faults_of(one.case)
    return [
        one.episode.number,
        timezone.localtime(one.episode.starts_at).date().isoformat(),
        one.episode.title,
        one.segment.slug,
        one.at_s,
        one.case.pk,
        "; ".join(name_fault(fault) for fault in faults),
        "; ".join(dict.fromkeys(family_of(fault) for fault in faults)),
        "yes" if one.case.verdicts.all() else "no",
        name_process(one.case.process),
        one.case.machine,
        one.case.material,
        one.segment.audience_question,
    ]
