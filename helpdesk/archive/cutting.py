"""Segments as stretches of cues: laying out what the engine cut, and keeping what people said."""

import datetime
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from django.utils.dateparse import parse_datetime

from helpdesk.archive.models import TITLE_CHARS
from helpdesk.archive.values import CueLine, CutSegment

SAME_WORDS_WITHIN_S = 90.0  # a new version may begin later or earlier [judgement: desk, 2026-11]
SAME_START_WITHIN_S = 20.0  # a known start stands for a found one [judgement: desk, 2026-11]
SAME_TIME_WITHIN_S = 1.5  # about half a cue [judgement: desk, 2026-11]


@dataclass(frozen=True, kw_only=True)
class Draft:
    """A segment that begins with a cue and ends where the next one begins."""

    first_cue: int
    kind: str
    title: str
    case_id: int | None = None
    confidence: float = 1.0
    suspects: Sequence[Sequence[Any]] | None = None
    corrected_at: datetime.datetime | None = None
    corrected_by_id: int | None = None

    def to_json(self) -> dict[str, Any]:
        """Return the segment as plain values, from which `from_json` makes it again."""
        values = asdict(self)
        values["corrected_at"] = self.corrected_at.isoformat() if self.corrected_at else None
        return values

    @classmethod
    def from_json(cls, values: dict[str, Any]) -> "Draft":
        """Return a segment as it was kept."""
        at = values["corrected_at"]
        return cls(**{**values, "corrected_at": parse_datetime(at) if at else None})


def lay_out(
    cues: Sequence[CueLine], cut: Sequence[CutSegment], case_ids: Sequence[int | None]
) -> list[Draft]:
    """Return what the engine cut as stretches of cues, with the cases of planned parts."""
    starts = [cue.start_s for cue in cues]
    drafts: list[Draft] = []
    for segment in cut:
        first = min(bisect_left(starts, segment.start_s - 1e-6), len(cues) - 1) if drafts else 0
        if drafts and first <= drafts[-1].first_cue:  # between two cues there is no segment
            continue
        drafts.append(
            Draft(
                first_cue=first,
                kind=segment.kind,
                title=segment.title[:TITLE_CHARS],
                case_id=None if segment.part is None else case_ids[segment.part],
                confidence=segment.confidence,
            )
        )
    return drafts


def pin_case(
    drafts: Sequence[Draft], cues: Sequence[CueLine], second: float, case_id: int, title: str
) -> list[Draft]:
    """Return segments of which one begins where a case is known to, in place of starts nearby."""
    starts = [cue.start_s for cue in cues]
    cue = max(0, min(bisect_left(starts, second), len(cues) - 1))
    if cue and second - starts[cue - 1] < starts[cue] - second:
        cue -= 1
    pinned = Draft(first_cue=cue, kind="case", title=title[:TITLE_CHARS], case_id=case_id)
    others = [
        draft
        for draft in drafts
        if abs(starts[draft.first_cue] - second) > SAME_START_WITHIN_S or draft.case_id
    ]
    laid = {draft.first_cue: draft for draft in others} | {cue: pinned}
    if 0 not in laid:  # the first words before the case belong to what began with them
        laid[0] = drafts[0]
    return [laid[at] for at in sorted(laid)]


def ends_of(drafts: Sequence[Draft], cue_count: int) -> list[int]:
    """Return one behind the last cue of each segment."""
    return [draft.first_cue for draft in drafts[1:]] + [cue_count]


def keep_corrections(
    drafts: list[Draft],
    cues: Sequence[CueLine],
    old: Sequence[Draft],
    old_cues: Sequence[CueLine],
) -> list[Draft]:
    """Return new segments with those a person corrected before in their places.

    A corrected segment stays where its first words are found again near their time, or a cue begins
    at its time; it ends where its end is found again, else where the next new segment begins.
    """
    kept = []
    for draft, end in zip(old, ends_of(old, len(old_cues)), strict=True):
        if draft.corrected_at is None:
            continue
        first = _find_again(old_cues, draft.first_cue, cues)
        if first is None:
            continue
        last = len(cues) if end == len(old_cues) else _find_again(old_cues, end, cues)
        if last is None or last <= first:
            following = [d.first_cue for d in drafts if d.first_cue > first]
            last = following[0] if following else len(cues)
        kept.append((first, last, replace(draft, first_cue=first, suspects=None)))
    return _put_in(drafts, kept, len(cues))


def _find_again(old: Sequence[CueLine], cue: int, new: Sequence[CueLine]) -> int | None:
    """Return the cue that says the same near the same time, else one that begins then."""
    at_s, words = old[cue].start_s, _plain(old[cue].text)
    near = range(
        bisect_left(new, at_s - SAME_WORDS_WITHIN_S, key=_start_of),
        bisect_left(new, at_s + SAME_WORDS_WITHIN_S, key=_start_of),
    )
    same = [n for n in near if _plain(new[n].text) == words]
    if same:
        return min(same, key=lambda n: abs(new[n].start_s - at_s))
    close = [n for n in near if abs(new[n].start_s - at_s) <= SAME_TIME_WITHIN_S]
    return min(close, key=lambda n: abs(new[n].start_s - at_s)) if close else None


def _start_of(cue: CueLine) -> float:
    return cue.start_s


def _plain(text: str) -> str:
    return " ".join("".join(c if c.isalnum() else " " for c in text.casefold()).split())


def _put_in(
    drafts: Sequence[Draft], kept: Sequence[tuple[int, int, Draft]], cue_count: int
) -> list[Draft]:
    """Return the segments with the kept ones in place of what lies beneath them."""
    laid = {draft.first_cue: draft for draft in drafts}
    if kept:  # what was suspected was read in stretches that end elsewhere now
        laid = {at: replace(draft, suspects=None) for at, draft in laid.items()}
    for first, last, draft in kept:
        beneath = [at for at in laid if at <= first]
        under = laid[max(beneath)] if beneath else draft
        later = [at for at in laid if first < at < last]
        goes_on = laid[max(later)] if later else under
        for at in later:
            del laid[at]
        laid[first] = draft
        if last < cue_count and last not in laid:
            laid[last] = replace(goes_on, first_cue=last)
    return [laid[at] for at in sorted(laid)]
