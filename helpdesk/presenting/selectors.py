"""The show as the presenter’s page takes it: plain values that travel as JSON."""

import datetime
import hashlib
import json
from collections.abc import Iterable, Sequence
from typing import Any

from helpdesk.episodes.models import Episode
from helpdesk.episodes.selectors import Show, ShowPart, ShowPicture, get_show
from helpdesk.photos.models import Photo, PhotoState
from helpdesk.presenting.models import PictureMark


def get_stage(episode: Episode) -> dict[str, Any]:
    """Return a show with the marks of its pictures, and a digest that changes when it does."""
    show = get_show(episode)
    marks = list_marks(p.photo_id for part in show.parts for p in part.pictures)
    stage = {
        "number": show.number,
        "title": show.title,
        "version": show.version,
        "is_out": show.is_out,
        "starts_ms": epoch_ms(show.starts_at),
        "end_ms": epoch_ms(show.hard_end),
        "on_air_ms": epoch_ms(show.on_air_at),
        "off_air_ms": epoch_ms(show.off_air_at),
        "parts": [_part_of(part, marks) for part in show.parts],
    }
    return stage | {"digest": _digest(stage, show)}


def list_marks(photo_ids: Iterable[int]) -> dict[int, list[PictureMark]]:
    """Return the marks of photos in their turn, in one query."""
    found: dict[int, list[PictureMark]] = {}
    for mark in PictureMark.objects.filter(photo_id__in=list(photo_ids)):
        found.setdefault(mark.photo_id, []).append(mark)
    return found


def list_stage_photos(episode: Episode) -> list[Photo]:
    """Return the photos a show uses at this moment, each once, in the order of the show."""
    ids = list(dict.fromkeys(p.photo_id for part in get_show(episode).parts for p in part.pictures))
    photos = Photo.objects.filter(pk__in=ids, state=PhotoState.READY).in_bulk()
    return [photos[pk] for pk in ids if pk in photos]


def epoch_ms(moment: datetime.datetime | None) -> int | None:
    """Return a moment in milliseconds since 1970, None for none."""
    return None if moment is None else round(moment.timestamp() * 1000)


def mark_values(mark: PictureMark) -> dict[str, Any]:
    """Return a mark as the page draws it."""
    return {
        "shape": mark.shape,
        "x1": mark.x1_pct,
        "y1": mark.y1_pct,
        "x2": mark.x2_pct,
        "y2": mark.y2_pct,
        "words": mark.words,
    }


def _part_of(part: ShowPart, marks: dict[int, list[PictureMark]]) -> dict[str, Any]:
    """Return one part as plain values."""
    return {
        "id": part.id,
        "kind": part.kind_name,
        "slug": part.slug,
        "case": part.case_id,
        "presenter": part.presenter,
        "points": list(part.points),
        "script": part.script,
        "cautions": list(part.cautions),
        "mentions": [f"{m.kind.capitalize()} on {m.subject}: {m.text}" for m in part.mentions],
        "credits": list(part.credits),
        "said_as": [{"name": each.name, "said_as": each.said_as} for each in part.said_as],
        "links": list(part.links),
        "question": part.audience_question,
        "planned_s": part.planned_s,
        "hit_ms": epoch_ms(part.hit_at),
        "started_ms": epoch_ms(part.started_at),
        "blocked": list(part.blocked),
        "do_not_show": part.do_not_show,
        "pictures": [_picture_of(p, marks.get(p.photo_id, [])) for p in part.pictures],
    }


def _picture_of(picture: ShowPicture, marks: Sequence[PictureMark]) -> dict[str, Any]:
    """Return a picture with its marks, in their turn."""
    return {
        "id": picture.photo_id,
        "url": picture.url,
        "alt": picture.alt,
        "seconds": picture.seconds,
        "marks": [mark_values(mark) for mark in marks],
    }


def _digest(stage: dict[str, Any], show: Show) -> str:
    """Return a short fingerprint of everything the page shows."""
    text = json.dumps([stage, show.total_s], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:20]
