"""Everything that changes episodes and their parts."""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case
from helpdesk.cases.services import record_event
from helpdesk.core import clock
from helpdesk.episodes.errors import (
    NotOnAirError,
    NotReadyError,
    PictureRefusedError,
    StaleDetailsError,
    StalePartError,
)
from helpdesk.episodes.featuring import feature_parts
from helpdesk.episodes.locks import count_change, lock_episode, lock_sheet, refuse_when_out
from helpdesk.episodes.models import (
    PICTURE_S,
    Candidate,
    Episode,
    EpisodeState,
    Segment,
    SegmentKind,
    ShownPicture,
    Stand,
)
from helpdesk.episodes.points import suggest_points
from helpdesk.episodes.selectors import get_run_sheet, list_showable_photos

SLUG_LIMIT = 60
CASE_FIXED_S = 20  # coming to the table and leaving it [judgement: desk, 2026-11]
# The frame of a show: kind, slug, fixed seconds. The producer changes it freely.
FRAME = (
    (SegmentKind.TEASE, "What is coming", 20),
    (SegmentKind.HELLO, "Hello", 30),
    (SegmentKind.THANKS, "Thanks", 40),
    (SegmentKind.CALL, "Send us your failures", 30),
    (SegmentKind.FAREWELL, "Until next time", 20),
)
# Kinds by where they usually stand; a new part goes behind the last of its own or an earlier group.
FIRST, OPENING, CASES, CLOSING, END = range(5)
USUAL_STAND = {
    SegmentKind.TEASE: FIRST,
    SegmentKind.HELLO: OPENING,
    SegmentKind.CASE: CASES,
    SegmentKind.NOTICE: CASES,
    SegmentKind.THANKS: CLOSING,
    SegmentKind.CALL: CLOSING,
    SegmentKind.FAREWELL: END,
}
OWN_STAND = {Stand.OPENING: OPENING, Stand.CASES: CASES, Stand.CLOSING: CLOSING}
PART_FIELDS = (
    "slug",
    "presenter",
    "script",
    "talking_points",
    "fixed_s",
    "hit_at",
    "links",
    "audience_question",
)
DETAILS = ("title", "starts_at", "slot_s", "words_per_minute", "link")
MOST_FIRST_PICTURES = 4  # more is an album, not a case [judgement: desk, 2026-11]


@dataclass(frozen=True)
class PictureChoice:
    """A photo chosen for a part, and the seconds it stands."""

    photo_id: int
    seconds: int = PICTURE_S


@transaction.atomic
def make_episode(
    *,
    number: int,
    title: str,
    starts_at: datetime.datetime,
    slot_s: int,
    words_per_minute: int,
) -> Episode:
    """Make an episode with the frame of a show in it."""
    episode = Episode(
        number=number,
        title=title,
        starts_at=starts_at,
        slot_s=slot_s,
        words_per_minute=words_per_minute,
    )
    episode.full_clean()
    episode.save()
    for place, (kind, slug, fixed_s) in enumerate(FRAME, 1):
        Segment.objects.create(
            episode=episode, position=place, kind=kind, slug=slug, fixed_s=fixed_s
        )
    return episode


@transaction.atomic
def change_episode(
    episode: Episode, values: Mapping[str, Any], *, version: int | None = None
) -> Episode:
    """Change title, start, slot, rate or link.

    Raises StaleDetailsError when these are no longer at `version`, the number of their changes.
    """
    lock_episode(episode)
    if version is not None and episode.details_version != version:
        raise StaleDetailsError(episode)
    old_start = episode.starts_at
    for name in DETAILS:
        if name in values:
            setattr(episode, name, values[name])
    episode.full_clean()
    episode.version += 1
    episode.details_version += 1
    episode.save()
    _carry_fixed_times(episode, old_start)
    return episode


@transaction.atomic
def add_candidate(case: Case, *, actor: User, why: str = "") -> Candidate:
    """Mark a case as fit for a show."""
    candidate, is_new = Candidate.objects.get_or_create(
        case=case, defaults={"added_by": actor, "added_at": clock.now(), "why": why}
    )
    if is_new:
        record_event(case, kind="candidate", what="Marked for the show", actor=actor, why=why)
    return candidate


@transaction.atomic
def drop_candidate(case: Case, *, actor: User) -> None:
    """Take a case off the list of candidates."""
    gone, _ = Candidate.objects.filter(case=case).delete()
    if gone:
        record_event(case, kind="candidate", what="No longer marked for the show", actor=actor)


@transaction.atomic
def add_segment(
    episode: Episode,
    *,
    kind: str,
    slug: str,
    case: Case | None = None,
    version: int | None = None,
    **fields: Any,
) -> Segment:
    """Add a part where its kind usually stands.

    Raises StaleSheetError when the sheet is no longer at `version`.
    """
    lock_sheet(episode, version)
    segments = list(episode.segments.select_related("own_kind").order_by("position", "pk"))
    segment = Segment(
        episode=episode, kind=kind, slug=_free_slug(episode, slug), case=case, **fields
    )
    stand = _stand_of(segment)
    place = max((n for n, s in enumerate(segments, 1) if _stand_of(s) <= stand), default=0) + 1
    segment.position = place
    segment.save()
    _renumber(episode, [*segments[: place - 1], segment, *segments[place - 1 :]])
    return segment


@transaction.atomic
def add_case(episode: Episode, case: Case, *, actor: User, version: int | None = None) -> Segment:
    """Put a case on the sheet with talking points and pictures to start from."""
    lock_episode(episode)  # two who add the same case at once find the same part
    known = episode.segments.filter(case=case).first()
    if known:
        return known
    segment = add_segment(
        episode,
        kind=SegmentKind.CASE,
        slug=case.title,
        case=case,
        version=version,
        fixed_s=CASE_FIXED_S,
        talking_points="\n".join(suggest_points(case)),
    )
    add_candidate(case, actor=actor)
    photos = list_showable_photos(segment)[:MOST_FIRST_PICTURES]
    _show_pictures(segment, [PictureChoice(photo.pk) for photo in photos])
    record_event(
        case, kind="sheet", what=f"On the run sheet of episode {episode.number}", actor=actor
    )
    return segment


@transaction.atomic
def change_segment(
    segment: Segment,
    values: Mapping[str, Any],
    *,
    pictures: Sequence[PictureChoice] | None = None,
    version: int | None = None,
    actor: User | None = None,
) -> Segment:
    """Change what a part says, shows and how long it takes.

    Raises StalePartError when the part is no longer at `version`, and PictureRefusedError when a
    picture may not be shown. The order of the parts has a version of its own.
    """
    episode = lock_sheet(segment.episode)
    segment.refresh_from_db()
    segment.episode = episode
    if version is not None and segment.version != version:
        raise StalePartError(segment)
    for name in PART_FIELDS:
        if name in values:
            setattr(segment, name, values[name])
    segment.version += 1
    segment.edited_at, segment.edited_by = clock.now(), actor
    segment.full_clean()
    segment.save()
    if pictures is not None:
        _show_pictures(segment, pictures)
    count_change(episode)
    return segment


@transaction.atomic
def remove_segment(segment: Segment, *, version: int | None = None) -> None:
    """Take a part off the sheet; its case stays a candidate.

    Raises StaleSheetError when the sheet is no longer at `version`.
    """
    episode = lock_sheet(segment.episode, version)
    segment.delete()
    _renumber(episode, list(episode.segments.order_by("position", "pk")))


@transaction.atomic
def move_segment(segment: Segment, *, place: int, version: int | None = None) -> int:
    """Move a part to a place, 1 being first; returns where it went.

    Raises StaleSheetError when the sheet is no longer at `version`: the order seen is not the
    order stored, so the move might mean something else.
    """
    episode = lock_sheet(segment.episode, version)
    others = list(episode.segments.exclude(pk=segment.pk).order_by("position", "pk"))
    place = max(1, min(place, len(others) + 1))
    others.insert(place - 1, segment)
    _renumber(episode, others)
    return place


@transaction.atomic
def mark_out(episode: Episode, *, actor: User, link: str = "") -> Episode:
    """Mark an episode as shown: its cases are featured and their people told, once each.

    Raises NotReadyError when a case may not be shown. Safe to repeat.
    """
    lock_episode(episode)  # what the show's own page noted meanwhile is not overwritten
    # Nobody withdraws between the look at what is agreed and the letters.
    list(Case.objects.select_for_update().filter(segments__episode=episode).order_by("pk"))
    sheet = get_run_sheet(episode)
    shown = [row for row in sheet.rows if not row.segment.was_left_out]
    missing = [m for row in shown for m in row.missing if m.is_blocking]
    blocking = [f"{m.case.title}: {m.text}" for m in missing]
    if blocking:
        raise NotReadyError(blocking)
    if episode.state != EpisodeState.OUT:
        episode.state = EpisodeState.OUT
        episode.out_at = clock.now()
        episode.link = link or episode.link
        episode.version += 1
        episode.save()
    feature_parts(episode, actor=actor)
    return episode


@transaction.atomic
def go_on_air(episode: Episode, *, at: datetime.datetime, actor: User) -> Episode:
    """Note when a show really began; the first time stays, however often it is sent.

    The sheet keeps its version: nothing a producer typed against it goes stale by it.
    """
    locked = Episode.objects.select_for_update().get(pk=episode.pk)
    if locked.on_air_at is None:
        refuse_when_out(locked)
        locked.on_air_at = at
        locked.save(update_fields=["on_air_at"])
        for case in Case.objects.filter(segments__episode=locked).order_by("pk"):
            record_event(case, kind="sheet", what=f"Episode {locked.number} on air", actor=actor)
    episode.on_air_at = locked.on_air_at
    return episode


@transaction.atomic
def go_off_air(episode: Episode, *, at: datetime.datetime, actor: User) -> Episode:
    """Note when a show really ended; the first time stays, however often it is sent.

    Raises NotOnAirError when the show never began, or began later than `at`.
    """
    locked = Episode.objects.select_for_update().get(pk=episode.pk)
    if locked.off_air_at is None:
        refuse_when_out(locked)
        if locked.on_air_at is None or at < locked.on_air_at:
            raise NotOnAirError(f"Episode {locked.number} was not on air at {at:%H:%M:%S}.")
        locked.off_air_at = at
        locked.save(update_fields=["off_air_at"])
        for case in Case.objects.filter(segments__episode=locked).order_by("pk"):
            record_event(case, kind="sheet", what=f"Episode {locked.number} off air", actor=actor)
    episode.off_air_at = locked.off_air_at
    return episode


@transaction.atomic
def record_start(segment: Segment, *, at: datetime.datetime, correct: bool = False) -> Segment:
    """Note when a part really started; the first time stays unless a later one corrects it."""
    locked = Segment.objects.select_for_update().get(pk=segment.pk)
    if locked.started_at is None or (correct and locked.started_at != at):
        refuse_when_out(locked.episode)
        locked.started_at = at
        locked.save(update_fields=["started_at"])
    segment.started_at = locked.started_at
    return segment


def _carry_fixed_times(episode: Episode, old_start: datetime.datetime) -> None:
    """Keep fixed times at their time of day when a show goes to another day."""
    moved = timezone.localdate(episode.starts_at) - timezone.localdate(old_start)
    if not moved:
        return
    for segment in episode.segments.filter(hit_at__isnull=False):
        # Added to the wall clock, so that a change to or from summer time moves nothing.
        segment.hit_at = timezone.localtime(segment.hit_at) + moved
        segment.save(update_fields=["hit_at"])


def _stand_of(segment: Segment) -> int:
    """Return in which group of a show a part usually stands."""
    if segment.own_kind:
        return OWN_STAND[Stand(segment.own_kind.stands)]
    return USUAL_STAND.get(SegmentKind(segment.kind), CLOSING)


def _show_pictures(segment: Segment, pictures: Sequence[PictureChoice]) -> None:
    """Store which photos a part shows, in their order; each must be one it may show today."""
    allowed = {photo.pk for photo in list_showable_photos(segment)}
    for picture in pictures:
        if picture.photo_id not in allowed:
            raise PictureRefusedError(f"Photo {picture.photo_id} may not be shown in this part.")
    segment.pictures.all().delete()
    for place, picture in enumerate(pictures, 1):
        ShownPicture.objects.create(
            segment=segment, photo_id=picture.photo_id, position=place, seconds=picture.seconds
        )


def _free_slug(episode: Episode, slug: str) -> str:
    """Return the slug, numbered if the episode has it already."""
    taken = set(episode.segments.values_list("slug", flat=True))
    slug = slug.strip()[:SLUG_LIMIT] or "Untitled part"
    if slug not in taken:
        return slug
    number = 2
    while f"{slug[: SLUG_LIMIT - 4]} {number}" in taken:
        number += 1
    return f"{slug[: SLUG_LIMIT - 4]} {number}"


def _renumber(episode: Episode, segments: list[Segment]) -> None:
    """Store an order as positions 1 to n and count the change."""
    for place, segment in enumerate(segments, 1):
        segment.position = place
    Segment.objects.bulk_update(segments, ["position"])
    count_change(episode)


def next_number() -> int:
    """Return the number after the highest."""
    return (Episode.objects.aggregate(top=Max("number"))["top"] or 0) + 1
