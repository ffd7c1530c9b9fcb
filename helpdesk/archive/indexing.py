"""Handing a show's words to the search."""

from collections.abc import Sequence

from helpdesk.archive.models import ArchivedShow, ArchiveSegment, CaptionFile
from helpdesk.search.spoken_index import SpokenCue, SpokenPart, index_show


def index_archived(show: ArchivedShow) -> int:
    """Write a show's words into the index anew; return how many passages there are."""
    captions = CaptionFile.objects.filter(show=show).first()
    if captions is None:
        return 0
    return index_show(
        show.number,
        title=show.title,
        on_date=show.on_date,
        link=show.link,
        cues=[SpokenCue(start_s, text) for start_s, _, text, _ in captions.cues],
        parts=_parts(list(show.segments.order_by("position"))),
    )


def _parts(segments: Sequence[ArchiveSegment]) -> list[SpokenPart]:
    return [
        SpokenPart(
            first_cue=segment.first_cue,
            kind=segment.kind,
            title=segment.title,
            fault=segment.suspects[0][0] if segment.suspects else "",
            case_id=segment.case_id,
        )
        for segment in segments
    ]
