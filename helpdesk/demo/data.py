"""The demo's people, cases and episodes, read from TOML."""

import datetime
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

from django.conf import settings
from django.utils import timezone

FOLDER = Path(settings.BASE_DIR) / "fixtures_demo"


@dataclass(frozen=True, kw_only=True)
class DemoPerson:
    """An account of the desk."""

    username: str
    first_name: str
    last_name: str
    role: str
    spoken_name: str = ""


@dataclass(frozen=True, kw_only=True)
class DemoPhoto:
    """What to render for a case."""

    scene: str
    view: str = "whole"
    color: str = "teal"
    seed: int = 1
    alt: str = ""


@dataclass(frozen=True, kw_only=True)
class DemoStep:
    """Something that happens to a case, some hours after it came in."""

    do: str
    after_h: float
    who: str = "imke"
    words: str = ""
    more: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class DemoCase:
    """A case as it was sent, and what happened to it."""

    key: str
    days_ago: int
    at: str
    story: str
    title: str
    channel: str = "web"
    person: str = ""
    email: str = ""
    handle: str = ""
    handle_where: str = ""
    reply_channel: str = "mail"
    own: bool = True
    owner: str = ""
    owner_link: str = ""
    facts: Mapping[str, Any] = field(default_factory=dict)
    consent: Mapping[str, Any] = field(default_factory=dict)
    photos: Sequence[DemoPhoto] = ()
    steps: Sequence[DemoStep] = ()

    def opened_at(self, now: datetime.datetime) -> datetime.datetime:
        """Return when the case came in, seen from the moment of loading."""
        return moment(now, self.days_ago, self.at)


@dataclass(frozen=True, kw_only=True)
class DemoEpisode:
    """A show: its parts in order, whether it is out, and what was noted on its evening."""

    number: int
    title: str
    weeks_ago: int
    slot_s: int
    is_out: bool
    link: str = ""
    captions: str = ""
    late_s: float = 0.0
    off_air_s: float = 0.0
    recording_offset_s: int = 0
    parts: Sequence[Mapping[str, Any]] = ()


def moment(now: datetime.datetime, days_ago: int, at: str) -> datetime.datetime:
    """Return a clock time some days ago, but never later than a few minutes before now."""
    hour, minute = map(int, at.split(":"))
    local = timezone.localtime(now) - datetime.timedelta(days=days_ago)
    wished = local.replace(hour=hour, minute=minute, second=0, microsecond=0)
    return min(wished, now - datetime.timedelta(minutes=9))


def read_people() -> list[DemoPerson]:
    """Return the accounts of the demo."""
    return [DemoPerson(**row) for row in _read("people.toml")["person"]]


def read_texts() -> list[dict[str, str]]:
    """Return the recurring texts of the demo: title, kind, body."""
    return [{**row, "body": row["body"].strip()} for row in _read("texts.toml")["texts"]]


def read_cases() -> list[DemoCase]:
    """Return the cases of the demo, in no order."""
    rows = [row for path in sorted(FOLDER.glob("cases*.toml")) for row in _read(path.name)["case"]]
    return [_case(row) for row in rows]


def read_episodes() -> list[DemoEpisode]:
    """Return the episodes of the demo, oldest first."""
    rows = _read("episodes.toml")["episode"]
    return [DemoEpisode(**row) for row in sorted(rows, key=lambda r: r["number"])]


def read_supply(what: str) -> list[dict[str, Any]]:
    """Return the demo's subjects, statements, corrections or notices."""
    rows: list[dict[str, Any]] = _read("supply.toml").get(what, [])
    return rows


def open_captions(name: str) -> bytes:
    """Return the captions of a show."""
    return (FOLDER / "captions" / name).read_bytes()


def open_supporters() -> IO[bytes]:
    """Return the list of supporters, open for reading."""
    return (FOLDER / "supporters.csv").open("rb")


def _case(row: dict[str, Any]) -> DemoCase:
    """Return one case of the TOML."""
    photos = [DemoPhoto(**p) for p in row.pop("photos", [])]
    steps = [_step(s) for s in row.pop("steps", [])]
    return DemoCase(**row, photos=photos, steps=steps)


def _step(row: dict[str, Any]) -> DemoStep:
    """Return one step; what only some steps have goes into `more`."""
    common = {k: row.pop(k) for k in ("do", "after_h", "who", "words") if k in row}
    return DemoStep(**common, more=row)


def _read(name: str) -> dict[str, Any]:
    """Return the content of one file of the demo."""
    with (FOLDER / name).open("rb") as file:
        return tomllib.load(file)
