"""Reading and writing the segments of a show as stretches of cues."""

from collections.abc import Sequence
from dataclasses import replace

from helpdesk.archive import engine
from helpdesk.archive.cutting import Draft, ends_of
from helpdesk.archive.models import ArchivedShow, ArchiveSegment, Kind
from helpdesk.archive.values import CueLine


def drafts_of(show: ArchivedShow) -> list[Draft]:
    """Return a show's segments in their order."""
    return [
        Draft(
            first_cue=row.first_cue,
            kind=row.kind,
            title=row.title,
            case_id=row.case_id,
            confidence=row.confidence,
            suspects=row.suspects,
            corrected_at=row.corrected_at,
            corrected_by_id=row.corrected_by_id,
        )
        for row in show.segments.order_by("position")
    ]


def read_suspects(drafts: Sequence[Draft], cues: Sequence[CueLine]) -> list[Draft]:
    """Return segments with the faults their words speak of, where those were not read yet."""
    ends = ends_of(drafts, len(cues))
    return [
        replace(draft, suspects=_suspects(draft, cues[draft.first_cue : end]))
        for draft, end in zip(drafts, ends, strict=True)
    ]


def store_segments(
    show: ArchivedShow,
    drafts: Sequence[Draft],
    cues: Sequence[CueLine],
) -> None:
    """Write a show's segments in place of those there are, in the caller's transaction."""
    ends = ends_of(drafts, len(cues))
    last_s = max(cue.end_s for cue in cues)
    show.segments.all().delete()
    ArchiveSegment.objects.bulk_create(
        ArchiveSegment(
            show=show,
            position=place,
            first_cue=draft.first_cue,
            start_s=cues[draft.first_cue].start_s,
            end_s=cues[end].start_s if end < len(cues) else last_s,
            kind=draft.kind,
            title=draft.title,
            case_id=draft.case_id,
            confidence=draft.confidence,
            suspects=draft.suspects,
            corrected_at=draft.corrected_at,
            corrected_by_id=draft.corrected_by_id,
        )
        for place, (draft, end) in enumerate(zip(drafts, ends, strict=True), 1)
    )


def _suspects(draft: Draft, cues: Sequence[CueLine]) -> Sequence[Sequence[object]]:
    """Return the faults that what is said in a case speaks of, best first."""
    if draft.suspects is not None:
        return draft.suspects
    if draft.kind != Kind.CASE:
        return []
    found = engine.suspect_faults(" ".join(cue.text for cue in cues))
    return [[fault.id, fault.name, fault.probability] for fault in found]
