"""What changes after a show: its real times, its texts, who was told, the supporters' roll."""

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import IO, Any

from django.db import transaction
from django.db.models import Q

from helpdesk.accounts.models import User
from helpdesk.aftershow.descriptions import known_names, list_names_not_to_say, without_names
from helpdesk.aftershow.errors import NoPlaceError, NotNamedError
from helpdesk.aftershow.models import Description, HandTold, RollDraft, Supporter
from helpdesk.aftershow.roll import (
    NO_SIGN,
    OPENING,
    RowLook,
    fold_name,
    look_at_rows,
    make_roll,
    read_list,
    roll_rate,
    without_name,
)
from helpdesk.aftershow.selectors import AfterShow, Text, list_targets
from helpdesk.cases.models import Case
from helpdesk.cases.services import record_event
from helpdesk.core import clock
from helpdesk.core.errors import RefusedInputError, StaleVersionError
from helpdesk.core.storage import clean_label
from helpdesk.episodes.featuring import move_appearances
from helpdesk.episodes.models import Episode, EpisodeState, Segment, SegmentKind
from helpdesk.episodes.timing import count_words, spoken_seconds

DRAFT_LIFE = datetime.timedelta(days=7)
SAY = "Say "


@dataclass(frozen=True)
class PartTime:
    """What was noted of a part afterwards: its second of the recording, or that it was left out."""

    segment_id: int
    at_s: float | None
    was_left_out: bool


@transaction.atomic
def set_air(
    episode: Episode,
    *,
    on_air_at: datetime.datetime | None,
    off_air_at: datetime.datetime | None,
    recording_offset_s: int,
    actor: User,
) -> Episode:
    """Keep when a show went on and off air and where its recording begins."""
    if off_air_at and on_air_at is None:
        raise RefusedInputError("A show that went off air went on air before: say when.")
    if on_air_at and off_air_at and off_air_at <= on_air_at:
        raise RefusedInputError("The show went off air before it went on air.")
    episode.on_air_at = on_air_at
    episode.off_air_at = off_air_at
    episode.recording_offset_s = recording_offset_s
    _save_times(episode, actor)
    return episode


@transaction.atomic
def set_part_times(episode: Episode, times: Sequence[PartTime], *, actor: User) -> int:
    """Correct when parts really started, in seconds of the recording; return how many changed.

    A time that stays within the same second keeps its fraction. Raises NoPlaceError before the
    show is known to have gone on air: there is nothing the seconds could count from.
    """
    if episode.on_air_at is None:
        raise NoPlaceError("Say first when the show went on air.")
    segments = {segment.pk: segment for segment in episode.segments.all()}
    changed = 0
    for time in times:
        segment = segments[time.segment_id]
        started_at = _moment(episode, segment, time.at_s)
        if (segment.started_at, segment.was_left_out) == (started_at, time.was_left_out):
            continue
        segment.started_at, segment.was_left_out = started_at, time.was_left_out
        segment.save(update_fields=["started_at", "was_left_out"])
        changed += 1
    if changed:
        _save_times(episode, actor)
    return changed


@transaction.atomic
def keep_text(
    after: AfterShow, text: Text, *, words: str, limit_chars: int, version: int, actor: User
) -> Description:
    """Keep an edited text with its limit; words as the desk writes them are not kept as edited.

    Raises NotNamedError when the words name somebody who is not to be named, StaleVersionError
    when somebody else saved meanwhile.
    """
    row = text.description
    if row.pk and row.version != version:
        raise StaleVersionError("Somebody else saved this text meanwhile.")
    is_own = words.strip() not in ("", text.written.text.strip())
    row.text = words.strip() + "\n" if is_own else ""
    row.written_from = text.written.text if is_own else ""
    refused = list_names_not_to_say(row.text, text.written.text, after.parts)
    if refused:
        raise NotNamedError(refused)
    row.limit_chars = limit_chars
    row.edited_at, row.edited_by = (clock.now(), actor) if is_own else (None, None)
    row.version += 1
    row.full_clean()
    _keep_targets(other for other in list_targets(after.episode) if other.target != row.target)
    row.save()
    return row


@transaction.atomic
def add_target(after: AfterShow, targets: Sequence[Description], name: str, limit: int) -> None:
    """Add a place this show's text goes to; the usual ones are kept with it."""
    name = " ".join(name.split())
    if any(row.target.casefold() == name.casefold() for row in targets):
        raise RefusedInputError(f"“{name}” is there already.")
    _keep_targets(targets)
    row = Description(episode=after.episode, target=name, limit_chars=limit)
    row.full_clean()
    row.save()


@transaction.atomic
def remove_target(row: Description) -> None:
    """Take a place away, with the text edited for it."""
    row.delete()


@transaction.atomic
def mark_told(case: Case, episode: Episode, *, actor: User) -> HandTold:
    """Note that somebody was told by hand; once for a show."""
    told, is_new = HandTold.objects.get_or_create(
        case=case, episode=episode, defaults={"told_at": clock.now(), "told_by": actor}
    )
    if is_new:
        what = f"Told by hand of episode {episode.number}"
        record_event(case, kind="told", what=what, actor=actor)
    return told


@transaction.atomic
def keep_supporter(supporter: Supporter | None, values: Mapping[str, Any]) -> Supporter:
    """Add or change a supporter; who is no longer to be named leaves the scripts at once."""
    supporter = supporter or Supporter(noted_at=clock.now())
    old_name = supporter.name
    for name in ("name", "said_as", "may_name", "since", "note"):
        if name in values:
            value = values[name]
            setattr(supporter, name, " ".join(value.split()) if isinstance(value, str) else value)
    supporter.key = fold_name(supporter.name)
    if ";" in supporter.name:
        raise RefusedInputError(NO_SIGN)
    if Supporter.objects.filter(key=supporter.key).exclude(pk=supporter.pk).exists():
        raise RefusedInputError(f"“{supporter.name}” is on the list already.")
    supporter.full_clean()
    supporter.save()
    if old_name and (not supporter.may_name or old_name != supporter.name):
        _take_from_scripts(old_name)
    return supporter


@transaction.atomic
def erase_supporter(supporter: Supporter) -> list[int]:
    """Forget a supporter, also in the rolls of scripts.

    Returns the numbers of the episodes whose other words still hold the name: only a person can
    tell whether those speak of them.
    """
    name = supporter.name
    supporter.delete()
    _take_from_scripts(name)
    left = Segment.objects.filter(Q(script__icontains=name) | Q(talking_points__icontains=name))
    return sorted(set(left.values_list("episode__number", flat=True)))


@transaction.atomic
def put_roll_into_script(episode: Episode) -> Segment:
    """Put the roll into the thanks part of a show in the making, in place of an older one.

    Raises NoPlaceError when the show is out or has no such part, or when nobody is to be named.
    """
    if episode.state == EpisodeState.OUT:
        raise NoPlaceError(f"Episode {episode.number} is out; its sheet is history now.")
    segment = episode.segments.filter(kind=SegmentKind.THANKS).order_by("position").first()
    if segment is None:
        raise NoPlaceError(f"Episode {episode.number} has no part that thanks supporters.")
    roll = make_roll(roll_rate(episode))
    if not roll.names:
        raise NoPlaceError("Nobody on the list has agreed to be named.")
    kept = [p for p in _paragraphs(segment.script) if not p.startswith(OPENING)]
    segment.script = "\n\n".join([*kept, roll.text])
    points = [p for p in segment.talking_points.splitlines() if not p.startswith(SAY)]
    said = [f"{SAY}{s.name}: “{s.said_as}”" for s in roll.names if s.said_as]
    segment.talking_points = "\n".join([*points, *said])
    segment.version += 1
    segment.save(update_fields=["script", "talking_points", "version"])
    _bump(episode)
    return segment


@transaction.atomic
def keep_list(file: IO[bytes], *, label: str, actor: User) -> RollDraft:
    """Keep a list of supporters as it was read; nobody is on the roll by it yet."""
    purge_drafts()
    found = read_list(file)
    return RollDraft.objects.create(
        label=clean_label(label, limit=120),
        header=list(found.header),
        rows=list(found.rows),
        columns=list(found.columns),
        remarks=list(found.remarks),
        made_at=clock.now(),
        made_by=actor,
    )


@transaction.atomic
def bring_in(draft: RollDraft) -> dict[str, int]:
    """Write what a list says to the roll and forget the list; return how many rows became what.

    Raises RefusedInputError when no column is the name.
    """
    draft = RollDraft.objects.select_for_update().get(pk=draft.pk)
    if "name" not in draft.columns:
        raise RefusedInputError("Say first which column is the name.")
    counts = {"new": 0, "changed": 0, "known": 0, "refused": 0}
    for look in look_at_rows(draft.rows, draft.columns):
        counts[look.what] += 1
        if look.what in ("new", "changed"):
            _write(look)
    draft.delete()
    return counts


def set_columns(draft: RollDraft, columns: Sequence[str]) -> RollDraft:
    """Keep what the columns of a list are; raises RefusedInputError for a meaning given twice."""
    given = [column for column in columns if column]
    if len(given) != len(set(given)):
        raise RefusedInputError("Two columns cannot be the same thing.")
    draft.columns = list(columns)
    draft.save(update_fields=["columns"])
    return draft


def purge_drafts() -> int:
    """Forget lists nobody brought in for a week; return how many."""
    return RollDraft.objects.filter(made_at__lt=clock.now() - DRAFT_LIFE).delete()[0]


@transaction.atomic
def forget_names(case: Case) -> None:
    """Take the names of an erased case's people out of the texts edited by hand."""
    names = known_names(case)
    lead = case.joined_to_id or case.pk
    texts = Description.objects.filter(episode__segments__case__in=[case.pk, lead]).distinct()
    for row in texts.exclude(text=""):
        row.text = without_names(row.text, names)
        row.written_from = without_names(row.written_from, names)
        row.save(update_fields=["text", "written_from"])


def _keep_targets(rows: Iterable[Description]) -> None:
    """Keep the places that only stood for the usual ones until now."""
    for row in rows:
        if not row.pk:
            row.save()


def _write(look: RowLook) -> None:
    values = dict(look.values)
    known = Supporter.objects.filter(key=fold_name(str(values["name"]))).first()
    keep_supporter(known, values)


def _moment(episode: Episode, segment: Segment, at_s: float | None) -> datetime.datetime | None:
    """Return the moment of a second of the recording; the noted one when it is the same second."""
    if at_s is None or episode.on_air_at is None:
        return None
    second = at_s - episode.recording_offset_s
    if segment.started_at is not None:
        noted_s = (segment.started_at - episode.on_air_at).total_seconds()
        if int(noted_s + episode.recording_offset_s) == at_s:
            return segment.started_at
    return episode.on_air_at + datetime.timedelta(seconds=second)


def _save_times(episode: Episode, actor: User) -> None:
    """Store the times of a show, count the change, and move the places of its cases."""
    episode.version += 1
    episode.full_clean()
    episode.save(update_fields=["on_air_at", "off_air_at", "recording_offset_s", "version"])
    move_appearances(episode, actor=actor)


def _take_from_scripts(name: str) -> None:
    """Take a name out of the roll in every script; the length of a show that is out stays true."""
    found = Segment.objects.filter(kind=SegmentKind.THANKS, script__contains=name)
    for segment in found.select_related("episode"):
        before = count_words(segment.script)
        paragraphs = [
            without_name(p, name) if p.startswith(OPENING) else p
            for p in _paragraphs(segment.script)
        ]
        segment.script = "\n\n".join(p for p in paragraphs if p)
        points = segment.talking_points.splitlines()
        segment.talking_points = "\n".join(p for p in points if not p.startswith(f"{SAY}{name}:"))
        if segment.episode.state == EpisodeState.OUT:
            gone = before - count_words(segment.script)
            segment.fixed_s += round(spoken_seconds(gone, segment.episode.words_per_minute))
        segment.save(update_fields=["script", "talking_points", "fixed_s"])
        _bump(segment.episode)


def _paragraphs(script: str) -> list[str]:
    return [p.strip() for p in script.replace("\r\n", "\n").split("\n\n") if p.strip()]


def _bump(episode: Episode) -> None:
    episode.version += 1
    episode.save(update_fields=["version"])
