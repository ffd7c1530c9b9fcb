"""What is known of a show's plan: its run sheet, or where its cases were shown."""

from dataclasses import dataclass

from helpdesk.archive.values import Planned, SegmentKind
from helpdesk.cases.models import Appearance, Case
from helpdesk.episodes.models import Episode
from helpdesk.episodes.models import SegmentKind as PartKind
from helpdesk.episodes.selectors import SheetRow, get_run_sheet

KIND_OF_PART: dict[PartKind, SegmentKind] = {
    PartKind.TEASE: "intro",
    PartKind.HELLO: "intro",
    PartKind.CASE: "case",
    PartKind.NOTICE: "notice",
    PartKind.THANKS: "outro",
    PartKind.CALL: "outro",
    PartKind.FAREWELL: "outro",
    PartKind.OWN: "notice",
}


@dataclass(frozen=True)
class PlannedCase:
    """A planned part and the case it is about, if any."""

    part: Planned
    case_id: int | None


@dataclass(frozen=True)
class ShownCase:
    """A case and the second of a show at which it begins."""

    second: float
    case_id: int
    title: str


def find_plan(number: int) -> list[PlannedCase]:
    """Return the parts of a show that was made at the desk, in their order; else []."""
    episode = Episode.objects.filter(number=number).first()
    if episode is not None:
        rows = get_run_sheet(episode).rows
        if any(row.segment.kind == PartKind.CASE for row in rows):
            return [_of_row(episode, row) for row in rows if not row.segment.was_left_out]
    return []


def list_shown(number: int) -> list[ShownCase]:
    """Return the cases the desk knows to have been shown in an episode, by their seconds."""
    shown = Appearance.objects.filter(episode_number=number).select_related("case")
    return [
        ShownCase(float(appearance.starts_at_s), appearance.case_id, appearance.case.title)
        for appearance in shown.order_by("starts_at_s", "pk")
    ]


def _of_row(episode: Episode, row: SheetRow) -> PlannedCase:
    segment = row.segment
    started_s = None
    if segment.started_at and episode.on_air_at:
        started_s = (segment.started_at - episode.on_air_at).total_seconds()
        started_s += episode.recording_offset_s
    words = segment.talking_points
    if segment.case is not None:
        words = f"{words}\n{_words_of(segment.case)}"
    return PlannedCase(
        Planned(
            kind=KIND_OF_PART[PartKind(segment.kind)],
            slug=segment.slug,
            script=segment.script,
            words=words,
            planned_s=float(row.seconds) or None,
            started_s=started_s if started_s is not None and started_s >= 0 else None,
        ),
        segment.case_id,
    )


def _words_of(case: Case) -> str:
    """Return what a case is about in its own words; nothing of one that was erased."""
    if case.erased_at:
        return ""
    stories = case.reports.values_list("story", flat=True)
    return "\n".join([case.title, case.machine, case.material, *stories])
