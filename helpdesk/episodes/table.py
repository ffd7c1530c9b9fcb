"""The run sheet as rows of a table: one line a part, seconds as numbers."""

from collections.abc import Iterator

from django.utils import timezone

from helpdesk.core.tables import Cell
from helpdesk.episodes.sheets import RunSheet, SheetRow

TABLE_HEADER = (
    "No.", "Part", "Slug", "Case", "Who", "Length (s)", "Front time", "Back-time",
    "Over or under (s)", "Must start at", "Started at", "Words", "Counted from", "Words a minute",
    "Pictures (s)", "Fixed (s)", "Script", "Talking points", "Say aloud", "Credit",
    "Audience question", "Links", "Blocked", "Corrections and replies",
)  # fmt: skip
CLOCK = "%H:%M:%S"


def table_rows(sheet: RunSheet) -> Iterator[tuple[Cell, ...]]:
    """Return the parts in order; times are the desk's clock."""
    for row in sheet.rows:
        yield _row(row)


def _row(row: SheetRow) -> tuple[Cell, ...]:
    segment, length = row.segment, row.length
    front, back, hit, started = (
        timezone.localtime(moment).strftime(CLOCK) if moment else ""
        for moment in (row.time.front, row.time.back, segment.hit_at, segment.started_at)
    )
    return (
        row.place,
        segment.kind_name,
        segment.slug,
        segment.case_id,
        segment.presenter,
        row.seconds,
        front,
        back,
        row.time.over_s,
        hit,
        started,
        row.words,
        length.basis,
        length.rate.words_per_minute,
        length.pictures_s,
        length.fixed_s,
        segment.script,
        "\n".join(row.points),
        "\n".join(row.cautions),
        row.credit,
        segment.audience_question,
        "\n".join(segment.link_list),
        " ".join([row.do_not_show] if row.do_not_show else row.blocks),
        "\n".join(f"{m.kind} on {m.subject}: {m.text}" for m in row.mentions),
    )
