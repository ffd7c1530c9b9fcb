"""A show as plain values, for whoever presents it or looks back at it."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from helpdesk.episodes.models import Episode, ShownPicture
from helpdesk.episodes.sheets import SheetRow, get_run_sheet, speak_credit
from helpdesk.supply.selectors import Mention


@dataclass(frozen=True)
class ShowPicture:
    """A photo to show, in its place, for its seconds."""

    photo_id: int
    url: str
    thumb_url: str
    alt: str
    seconds: int


@dataclass(frozen=True)
class SpokenName:
    """A name to be said, and how it is said ("" when nobody noted it)."""

    name: str
    said_as: str


@dataclass(frozen=True, kw_only=True)
class ShowPart:
    """One part as it is presented.

    `blocked` are the reasons that keep it from going out; `do_not_show` is why it must not be
    shown although the show is on air, "" otherwise. `mentions` are standing corrections and replies
    on what the part names. Without pictures it has none that may be
    shown at this moment.
    """

    id: int
    place: int
    kind: str
    kind_name: str
    slug: str
    case_id: int | None
    presenter: str
    points: Sequence[str]
    script: str
    cautions: Sequence[str]
    credits: Sequence[str]
    said_as: Sequence[SpokenName]
    links: Sequence[str]
    audience_question: str
    words: int
    words_per_minute: int
    planned_s: int
    front: datetime.datetime
    back: datetime.datetime
    hit_at: datetime.datetime | None
    started_at: datetime.datetime | None
    pictures: Sequence[ShowPicture]
    blocked: Sequence[str]
    mentions: Sequence[Mention]
    do_not_show: str


@dataclass(frozen=True, kw_only=True)
class Show:
    """A show with its parts in order."""

    number: int
    title: str
    version: int
    is_out: bool
    starts_at: datetime.datetime
    hard_end: datetime.datetime
    on_air_at: datetime.datetime | None
    off_air_at: datetime.datetime | None
    total_s: int
    over_s: int
    parts: Sequence[ShowPart]


def get_show(episode: Episode) -> Show:
    """Return a show as plain values, as it stands at this moment."""
    sheet = get_run_sheet(episode)
    return Show(
        number=episode.number,
        title=episode.title,
        version=episode.version,
        is_out=episode.is_out,
        starts_at=episode.starts_at,
        hard_end=sheet.hard_end,
        on_air_at=episode.on_air_at,
        off_air_at=episode.off_air_at,
        total_s=sheet.time.total_s,
        over_s=sheet.time.over_s,
        parts=tuple(_part_of(row) for row in sheet.rows),
    )


def _part_of(row: SheetRow) -> ShowPart:
    """Return one line of the sheet as it is presented."""
    segment = row.segment
    return ShowPart(
        id=segment.pk,
        place=row.place,
        kind=segment.kind,
        kind_name=segment.kind_name,
        slug=segment.slug,
        case_id=segment.case_id,
        presenter=segment.presenter,
        points=tuple(row.points),
        script=segment.script,
        cautions=tuple(row.cautions),
        credits=tuple(dict.fromkeys(speak_credit(credit) for credit in row.credits)),
        said_as=tuple(SpokenName(c.name, c.said_as) for c in row.credits if c.said_as),
        links=tuple(segment.link_list),
        audience_question=segment.audience_question,
        words=row.words,
        words_per_minute=row.length.rate.words_per_minute,
        planned_s=row.seconds,
        front=row.time.front,
        back=row.time.back,
        hit_at=segment.hit_at,
        started_at=segment.started_at,
        pictures=() if row.do_not_show else tuple(_picture_of(p) for p in row.pictures),
        blocked=tuple(row.blocks),
        mentions=tuple(row.mentions),
        do_not_show=row.do_not_show,
    )


def _picture_of(picture: ShownPicture) -> ShowPicture:
    """Return a picture with its addresses for people of the desk."""
    photo = picture.photo
    return ShowPicture(
        photo_id=photo.pk,
        url=photo.web_address,
        thumb_url=photo.thumb_address,
        alt=photo.description,
        seconds=picture.seconds,
    )
