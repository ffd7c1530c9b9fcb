"""Correcting the segments of a show: every change is one step that can be undone."""

from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from django.db import transaction

from helpdesk.accounts.models import User
from helpdesk.archive import engine
from helpdesk.archive.cutting import Draft, ends_of
from helpdesk.archive.errors import CorrectionError, StaleSegmentsError
from helpdesk.archive.indexing import index_archived
from helpdesk.archive.models import TITLE_CHARS, ArchiveChange, ArchivedShow, CaptionFile
from helpdesk.archive.segments import drafts_of, read_suspects, store_segments
from helpdesk.archive.values import CueLine
from helpdesk.cases.models import Case
from helpdesk.core import clock
from helpdesk.core.jobs import start_job

MOST_UNDONE = 50  # steps back that are kept for each show


@dataclass(frozen=True)
class Told:
    """What a person says of a segment: kind, title and case."""

    kind: str
    title: str
    case_id: int | None


Change = Callable[[list[Draft], Sequence[CueLine]], tuple[list[Draft], str]]


def move_start(number: int, version: int, place: int, *, cues: int, by: User) -> ArchivedShow:
    """Let a segment begin some cues later, or earlier with a number below 0."""

    def change(drafts: list[Draft], lines: Sequence[CueLine]) -> tuple[list[Draft], str]:
        return _start_at(drafts, lines, place, _get(drafts, place).first_cue + cues, by)

    return _change(number, version, change, by)


def begin_at(number: int, version: int, place: int, *, second: float, by: User) -> ArchivedShow:
    """Let a segment begin with the cue nearest to a second."""

    def change(drafts: list[Draft], lines: Sequence[CueLine]) -> tuple[list[Draft], str]:
        return _start_at(drafts, lines, place, nearest_cue(lines, second), by)

    return _change(number, version, change, by)


def split_at(number: int, version: int, *, second: float, by: User) -> ArchivedShow:
    """Let another segment begin with the cue nearest to a second."""

    def change(drafts: list[Draft], lines: Sequence[CueLine]) -> tuple[list[Draft], str]:
        cue = nearest_cue(lines, second)
        if any(draft.first_cue == cue for draft in drafts):
            raise CorrectionError(f"A segment begins at {say_s(lines[cue].start_s)} already.")
        place = bisect_left([draft.first_cue for draft in drafts], cue)
        drafts[place - 1] = replace(drafts[place - 1], suspects=None)
        title = f"From {say_s(lines[cue].start_s)}"
        new = replace(drafts[place - 1], first_cue=cue, title=title, case_id=None, confidence=1.0)
        drafts.insert(place, new)
        return _touch(drafts, by, place - 1, place), f"Split at {say_s(lines[cue].start_s)}"

    return _change(number, version, change, by)


def merge_up(number: int, version: int, place: int, *, by: User) -> ArchivedShow:
    """Make a segment one with the segment above it, which keeps its kind, title and case."""

    def change(drafts: list[Draft], lines: Sequence[CueLine]) -> tuple[list[Draft], str]:
        gone = _get(drafts, place)
        if place == 1:
            raise CorrectionError("The first segment has none above it.")
        drafts.pop(place - 1)
        above = drafts[place - 2]
        drafts[place - 2] = replace(
            above, suspects=None, case_id=above.case_id or _case_of(gone, above)
        )
        return _touch(drafts, by, place - 2), f"Joined “{gone.title}” to the one above"

    return _change(number, version, change, by)


def tell(number: int, version: int, place: int, told: Told, *, by: User) -> ArchivedShow:
    """Keep what a person says of a segment."""

    def change(drafts: list[Draft], lines: Sequence[CueLine]) -> tuple[list[Draft], str]:
        before = _get(drafts, place)
        there = Case.objects.filter(erased_at__isnull=True)
        if told.case_id and not there.filter(pk=told.case_id).exists():
            raise CorrectionError(f"There is no case {told.case_id}.")
        if not told.title.strip():
            raise CorrectionError("A segment needs a title.")
        drafts[place - 1] = replace(
            before,
            kind=told.kind,
            title=told.title.strip()[:TITLE_CHARS],
            case_id=told.case_id,
            suspects=before.suspects if told.kind == before.kind else None,
        )
        return _touch(drafts, by, place - 1), f"Changed what is said of segment {place}"

    return _change(number, version, change, by)


@transaction.atomic
def begin_and_tell(
    number: int, version: int, place: int, *, second: float | None, told: Told | None, by: User
) -> None:
    """Let a segment begin at a second and keep what is said of it: both are done, or neither."""
    _locked(number, version)
    if second is not None:
        version = begin_at(number, version, place, second=second, by=by).version
    if told is not None:
        tell(number, version, place, told, by=by)


@transaction.atomic
def confirm(number: int, version: int, *, by: User) -> ArchivedShow:
    """Note that a person found all boundaries of a show right."""
    show = _locked(number, version)
    show.checked_at, show.checked_by = clock.now(), by
    show.save(update_fields=["checked_at", "checked_by"])
    return show


@transaction.atomic
def undo(number: int, version: int) -> tuple[ArchivedShow, str]:
    """Put the segments back as they were before the last change; return what was undone.

    Raises
    ------
    CorrectionError
        If there is nothing to undo.
    """
    show = _locked(number, version)
    last = show.changes.first()
    if last is None:
        raise CorrectionError("There is nothing to undo.")
    drafts = [Draft.from_json(values) for values in last.before]
    there = set(
        Case.objects.filter(
            pk__in=[d.case_id for d in drafts if d.case_id], erased_at__isnull=True
        ).values_list("pk", flat=True)
    )
    _store(show, [d if d.case_id in there else replace(d, case_id=None) for d in drafts])
    last.delete()
    return show, last.what


def read_again(number: int) -> None:
    """Read the faults in segments whose words changed, then write the index anew."""
    engine.make_ready()
    with transaction.atomic():
        show = ArchivedShow.objects.select_for_update().filter(number=number).first()
        captions = CaptionFile.objects.filter(show=show).first() if show else None
        if show is None or captions is None:
            return
        lines = _lines_of(captions)
        store_segments(show, read_suspects(drafts_of(show), lines), lines)
        index_archived(show)


def nearest_cue(lines: Sequence[CueLine], second: float) -> int:
    """Return the cue that begins nearest to a second."""
    after = bisect_left(lines, second, key=lambda line: line.start_s)
    around = [n for n in (after - 1, after) if 0 <= n < len(lines)]
    return min(around, key=lambda n: abs(lines[n].start_s - second))


def say_s(second: float) -> str:
    """Return a time of the recording as m:ss or h:mm:ss."""
    hours, rest = divmod(int(second), 3600)
    minutes, seconds = divmod(rest, 60)
    return f"{hours}:{minutes:02}:{seconds:02}" if hours else f"{minutes}:{seconds:02}"


def _start_at(
    drafts: list[Draft], lines: Sequence[CueLine], place: int, cue: int, by: User
) -> tuple[list[Draft], str]:
    """Return the segments with one that begins at another cue, between its neighbours."""
    if place == 1:
        raise CorrectionError("The first segment begins with the first words.")
    draft, end = _get(drafts, place), ends_of(drafts, len(lines))[place - 1]
    if not drafts[place - 2].first_cue < cue < end:
        raise CorrectionError(
            "A segment keeps at least one line, and so does the one above it. Join the two instead."
        )
    drafts[place - 1] = replace(draft, first_cue=cue, suspects=None, confidence=1.0)
    drafts[place - 2] = replace(drafts[place - 2], suspects=None)
    said = say_s(lines[cue].start_s)
    return _touch(drafts, by, place - 2, place - 1), f"“{draft.title}” begins at {said}"


def _case_of(gone: Draft, above: Draft) -> int | None:
    """Return the case of a segment that goes, where the one above is a case without one."""
    return gone.case_id if gone.kind == above.kind else None


def _get(drafts: Sequence[Draft], place: int) -> Draft:
    if not 1 <= place <= len(drafts):
        raise CorrectionError(f"There is no segment {place}.")
    return drafts[place - 1]


def _touch(drafts: list[Draft], by: User, *places: int) -> list[Draft]:
    """Return the segments with some marked as corrected now."""
    now = clock.now()
    return [
        replace(draft, corrected_at=now, corrected_by_id=by.pk) if n in places else draft
        for n, draft in enumerate(drafts)
    ]


@transaction.atomic
def _change(number: int, version: int, change: Change, by: User) -> ArchivedShow:
    """Change a show's segments in one step, keeping what they were."""
    show = _locked(number, version)
    before = drafts_of(show)
    lines = _lines_of(CaptionFile.objects.get(show=show))
    after, what = change(list(before), lines)
    ArchiveChange.objects.create(
        show=show,
        what=what[:200],
        before=[draft.to_json() for draft in before],
        made_at=clock.now(),
        made_by=by,
    )
    too_old = list(show.changes.values_list("pk", flat=True)[MOST_UNDONE:])
    ArchiveChange.objects.filter(pk__in=too_old).delete()
    _store(show, after)
    return show


def _store(show: ArchivedShow, drafts: Sequence[Draft]) -> None:
    """Write segments; their faults are read and the index is written in the background."""
    lines = _lines_of(CaptionFile.objects.get(show=show))
    store_segments(show, drafts, lines)
    show.version += 1
    show.save(update_fields=["version"])
    key = f"read-archive-again:{show.pk}:{show.version}"
    start_job("read-archive-again", key=key, payload={"number": show.number})


def _locked(number: int, version: int) -> ArchivedShow:
    """Return the show, held until the transaction ends.

    Raises
    ------
    StaleSegmentsError
        If its segments have changed since the page was made.
    """
    show = ArchivedShow.objects.select_for_update().get(number=number)
    if show.version != version:
        raise StaleSegmentsError("Somebody changed these segments in the meantime. Look again.")
    return show


def _lines_of(captions: CaptionFile) -> list[CueLine]:
    return [CueLine(*cue) for cue in captions.cues]
