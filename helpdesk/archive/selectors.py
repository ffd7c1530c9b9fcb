"""Reading the archive: the list of shows, and a show’s segments with their lines."""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Count, Q, QuerySet

from helpdesk.archive.models import (
    ArchivedShow,
    ArchiveSegment,
    CaptionFile,
    CaptionUpload,
    Kind,
    UploadState,
)
from helpdesk.archive.values import CueLine
from helpdesk.search.moments import at_second

SHOWS_LISTED = 400
UPLOADS_LISTED = 20
LINES_SHOWN = 3000  # an hour of speech has about 1200
UNSURE = 0.5  # confidence below which a boundary is worth a look [judgement: desk, 2026-11]


@dataclass(frozen=True)
class Line:
    """One cue on the page."""

    cue: int
    start_s: float
    text: str
    address: str
    is_here: bool

    @property
    def second(self) -> int:
        """Return the second it begins in, which is shown: rounded up, it would be over by then."""
        return int(self.start_s)


@dataclass(frozen=True)
class SegmentRow:
    """A segment with those of its lines that the page shows."""

    place: int
    segment: ArchiveSegment
    lines: Sequence[Line]
    hidden: int
    is_first: bool

    @property
    def is_unsure(self) -> bool:
        """Return True when its start is worth a look."""
        return not self.is_first and self.segment.confidence < UNSURE

    @property
    def second(self) -> int:
        """Return the second it begins in."""
        return int(self.segment.start_s)

    @property
    def end_second(self) -> int:
        """Return the second it ends in."""
        return int(self.segment.end_s)


@dataclass(frozen=True)
class ShowPage:
    """A show with everything its page shows; `cue_before` and `cue_after` lead to more lines."""

    show: ArchivedShow
    captions: CaptionFile
    rows: Sequence[SegmentRow]
    cue_before: int | None
    cue_after: int | None
    last_change: str


def list_shows() -> QuerySet[ArchivedShow]:
    """Return the shows of the archive, newest first, with how they were cut; without the words."""
    return (
        ArchivedShow.objects.annotate(
            cases=Count("segments", filter=Q(segments__kind=Kind.CASE)),
            parts=Count("segments"),
            corrected=Count("segments", filter=Q(segments__corrected_at__isnull=False)),
        )
        .select_related("captions")
        .defer("captions__cues", "captions__remarks")
        .order_by("-number")[:SHOWS_LISTED]
    )


def list_uploads() -> list[CaptionUpload]:
    """Return the latest uploads without their bytes, newest first."""
    return list(CaptionUpload.objects.defer("raw").order_by("-pk")[:UPLOADS_LISTED])


def is_any_waiting(uploads: Sequence[CaptionUpload]) -> bool:
    """Return True while one of the uploads is to be read yet."""
    return any(upload.state == UploadState.WAITING for upload in uploads)


def get_show_page(
    show: ArchivedShow, *, second: float | None = None, first_cue: int | None = None
) -> ShowPage:
    """Return a show's page around a second or a cue, or its beginning."""
    captions = CaptionFile.objects.get(show=show)
    cues = [CueLine(*cue) for cue in captions.cues]
    here = None if second is None else nearest_cue_before(cues, second)
    from_cue = first_cue if first_cue is not None else max(0, (here or 0) - LINES_SHOWN // 2)
    from_cue = max(0, min(from_cue, len(cues) - 1))
    if len(cues) <= LINES_SHOWN:
        from_cue = 0
    to_cue = min(len(cues), from_cue + LINES_SHOWN)
    segments = list(show.segments.select_related("case", "corrected_by").order_by("position"))
    rows = []
    ends = [segment.first_cue for segment in segments[1:]] + [len(cues)]
    for place, (segment, end) in enumerate(zip(segments, ends, strict=True), 1):
        shown = range(max(segment.first_cue, from_cue), min(end, to_cue))
        lines = [_line(show, cues, n, here) for n in shown]
        hidden = end - segment.first_cue - len(lines)
        rows.append(SegmentRow(place, segment, lines, hidden, place == 1))
    last = show.changes.first()
    return ShowPage(
        show=show,
        captions=captions,
        rows=rows,
        cue_before=max(0, from_cue - LINES_SHOWN) if from_cue else None,
        cue_after=to_cue if to_cue < len(cues) else None,
        last_change=last.what if last else "",
    )


def nearest_cue_before(cues: Sequence[CueLine], second: float) -> int:
    """Return the first cue that begins within a second, else the last one before it."""
    after = bisect_left(cues, second, key=lambda cue: cue.start_s)
    # A link carries whole seconds: the cue of 4:41.6 is looked for at 4:41.
    is_meant = after < len(cues) and cues[after].start_s < second + 1
    return after if is_meant else max(0, after - 1)


def _line(show: ArchivedShow, cues: Sequence[CueLine], n: int, here: int | None) -> Line:
    cue = cues[n]
    address = at_second(show.link, cue.start_s) if show.link else ""
    return Line(n, cue.start_s, cue.text, address, n == here)
