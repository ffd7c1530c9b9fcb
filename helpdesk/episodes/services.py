"""Everything that changes episodes and their parts."""

import datetime
from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.db.models import Max

from helpdesk.accounts.models import User
from helpdesk.answers.advice import gather_advice
from helpdesk.cases.models import Case
from helpdesk.cases.services import record_event
from helpdesk.core import clock
from helpdesk.episodes.errors import (
    EpisodeOutError,
    NotOnAirError,
    NotReadyError,
    StaleSheetError,
)
from helpdesk.episodes.featuring import feature_parts
from helpdesk.episodes.lengths import measure_part
from helpdesk.episodes.models import Candidate, Episode, EpisodeState, Segment, SegmentKind
from helpdesk.episodes.selectors import get_run_sheet, rate_for

SLUG_LIMIT = 60
CASE_FIXED_S = 45  # showing photos without speaking [judgement: desk, 2026-11]
# The frame of a show: kind, slug, fixed seconds. The producer changes it freely.
FRAME = (
    (SegmentKind.TEASE, "What is coming", 20),
    (SegmentKind.HELLO, "Hello", 30),
    (SegmentKind.THANKS, "Thanks", 40),
    (SegmentKind.CALL, "Send us your failures", 30),
    (SegmentKind.FAREWELL, "Until next time", 20),
)
CASES_FOLLOW = (SegmentKind.TEASE, SegmentKind.HELLO, SegmentKind.CASE, SegmentKind.NOTICE)


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
def change_episode(episode: Episode, values: Mapping[str, Any]) -> Episode:
    """Change title, start, slot, rate or link."""
    for name in ("title", "starts_at", "slot_s", "words_per_minute", "link"):
        if name in values:
            setattr(episode, name, values[name])
    episode.full_clean()
    episode.version += 1
    episode.save()
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
    episode: Episode, *, kind: str, slug: str, case: Case | None = None, **fields: Any
) -> Segment:
    """Add a part: a case after the last case, anything else at the end."""
    _refuse_when_out(episode)
    segments = list(episode.segments.order_by("position"))
    place = len(segments) + 1
    if kind == SegmentKind.CASE:
        lead = [n for n, s in enumerate(segments, 1) if s.kind in CASES_FOLLOW]
        place = (max(lead) if lead else 0) + 1
    segment = Segment.objects.create(
        episode=episode,
        position=place,
        kind=kind,
        slug=_free_slug(episode, slug),
        case=case,
        **fields,
    )
    _renumber(episode, [*segments[: place - 1], segment, *segments[place - 1 :]])
    return segment


@transaction.atomic
def add_case(episode: Episode, case: Case, *, actor: User) -> Segment:
    """Put a case on the sheet with talking points to start from."""
    known = episode.segments.filter(case=case).first()
    if known:
        return known
    add_candidate(case, actor=actor)
    segment = add_segment(
        episode,
        kind=SegmentKind.CASE,
        slug=case.title,
        case=case,
        fixed_s=CASE_FIXED_S,
        talking_points="\n".join(suggest_points(case)),
    )
    record_event(
        case, kind="sheet", what=f"On the run sheet of episode {episode.number}", actor=actor
    )
    return segment


@transaction.atomic
def change_segment(segment: Segment, values: Mapping[str, Any]) -> Segment:
    """Change what a part says and how long it takes."""
    _refuse_when_out(segment.episode)
    for name in ("slug", "presenter", "script", "talking_points", "fixed_s", "hit_at"):
        if name in values:
            setattr(segment, name, values[name])
    segment.full_clean()
    segment.save()
    _bump(segment.episode)
    return segment


@transaction.atomic
def remove_segment(segment: Segment) -> None:
    """Take a part off the sheet; its case stays a candidate."""
    episode = segment.episode
    _refuse_when_out(episode)
    segment.delete()
    _renumber(episode, list(episode.segments.order_by("position")))


@transaction.atomic
def forget_case(case_id: int) -> None:
    """Take an erased case's words off every sheet, and off the list of candidates.

    A part keeps its place and its length, so that the times of a show that was out stay true.
    """
    for segment in Segment.objects.filter(case=case_id).select_related("episode"):
        rate = rate_for(segment.presenter, unmeasured_wpm=segment.episode.words_per_minute)
        pictures_s = sum(picture.seconds for picture in segment.pictures.all())
        length = measure_part(segment, rate=rate, pictures_s=pictures_s)
        segment.slug = f"Erased case {case_id}"
        segment.script = segment.talking_points = segment.links = segment.audience_question = ""
        segment.fixed_s = length.seconds
        segment.version += 1
        segment.pictures.all().delete()
        segment.save()
        _bump(segment.episode)
    Candidate.objects.filter(case=case_id).delete()


@transaction.atomic
def move_segment(segment: Segment, *, place: int, version: int | None = None) -> int:
    """Move a part to a place, 1 being first; returns where it went.

    Raises StaleSheetError when the sheet is no longer at `version`: the order seen is not the
    order stored, so the move might mean something else.
    """
    episode = Episode.objects.select_for_update().get(pk=segment.episode_id)
    _refuse_when_out(episode)
    if version is not None and episode.version != version:
        raise StaleSheetError(f"The sheet is at version {episode.version} by now.")
    others = list(episode.segments.exclude(pk=segment.pk).order_by("position"))
    place = max(1, min(place, len(others) + 1))
    others.insert(place - 1, segment)
    _renumber(episode, others)
    return place


@transaction.atomic
def mark_out(episode: Episode, *, actor: User, link: str = "") -> Episode:
    """Mark an episode as shown: its cases are featured and their people told, once each.

    Raises NotReadyError when a case may not be shown. Safe to repeat.
    """
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
        _refuse_when_out(locked)
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
        _refuse_when_out(locked)
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
        _refuse_when_out(locked.episode)
        locked.started_at = at
        locked.save(update_fields=["started_at"])
    segment.started_at = locked.started_at
    return segment


def suggest_points(case: Case) -> list[str]:
    """Return talking points to start from: what was seen, why, what helps, what to take care of."""
    advice = gather_advice(case)
    points = [f"{case.title}: {_facts_line(case)}".rstrip(": ")]
    points += [f"{cause.name}. {cause.why}" for cause in advice.causes[:2]]
    points += [f"What helps: {s.how}" for s in advice.steps if s.kind == "remedy"][:1]
    if case.danger_name:
        points.append("Say aloud: switch off and unplug before touching anything")
    return points


def _facts_line(case: Case) -> str:
    """Return printer, material and height in one line."""
    parts = [case.machine, case.material]
    if case.failed_at_mm is not None:
        parts.append(f"failed at {case.failed_at_mm:g} mm")
    return ", ".join(p for p in parts if p)


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
    _bump(episode)


def _bump(episode: Episode) -> None:
    """Count a change of the sheet."""
    episode.version += 1
    episode.save(update_fields=["version"])


def _refuse_when_out(episode: Episode) -> None:
    """Raise EpisodeOutError for an episode that was shown."""
    if episode.state == EpisodeState.OUT:
        raise EpisodeOutError(f"Episode {episode.number} is out; its sheet is history now.")


def next_number() -> int:
    """Return the number after the highest."""
    return (Episode.objects.aggregate(top=Max("number"))["top"] or 0) + 1
