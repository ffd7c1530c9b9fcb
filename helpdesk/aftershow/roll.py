"""The supporters' roll: who is on it, how long it takes, and reading a list of supporters.

The roll is read in the order of the alphabet, by the name as it should read, without regard to
capitals and accents.
"""

import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import IO

from helpdesk.aftershow.models import NAME_CHARS, NOTE_CHARS, Supporter
from helpdesk.capture.sheets import read_layout, read_rows
from helpdesk.core.errors import RefusedInputError
from helpdesk.episodes.models import FREE_TALK_WPM, Episode, SegmentKind
from helpdesk.episodes.rates import rate_for
from helpdesk.episodes.timing import count_words, spoken_seconds

MOST_ROWS = 5_000
MOST_BYTES = 5_000_000
ORDER = "in the order of the alphabet, by the name as it reads"
OPENING = "With thanks to "
PARTED = "; "
NO_SIGN = "A name cannot hold a semicolon: it parts the names of the roll."
LEAVE_OUT = ""
# What a column may be, and the words a header may say it with, without spaces and signs.
COLUMNS: Mapping[str, tuple[str, str]] = {
    "name": ("Name as it should read", "name who supporter fullname displayname readsas"),
    "said_as": ("How it is said", "saidas said pronounced pronunciation spokenas howitissaid"),
    "may_name": ("May be named", "maybenamed maybename consent named agrees naming public mayname"),
    "since": ("Since", "since from start started joined supportssince"),
    "note": ("Note", "note notes remark remarks comment"),
}
YES = frozenset({"yes", "y", "true", "1", "agreed", "agrees", "x"})
NO = frozenset({"no", "n", "false", "0", "", "not named", "anonymous"})
LIMITS = {"name": NAME_CHARS, "said_as": NAME_CHARS, "since": 40, "note": NOTE_CHARS}


@dataclass(frozen=True)
class Roll:
    """Who is read aloud, as one sentence, how long that takes, and who is left out."""

    names: Sequence[Supporter]
    unnamed_count: int
    text: str
    words: int
    seconds: float
    words_per_minute: int


@dataclass(frozen=True)
class ReadList:
    """A file of supporters as it was read."""

    header: Sequence[str]
    rows: Sequence[Mapping[str, object]]
    columns: Sequence[str]
    remarks: Sequence[str]


@dataclass(frozen=True)
class RowLook:
    """What would become of a row: new, changed, known or refused, and why."""

    line: int
    what: str
    why: str
    values: Mapping[str, object]


def make_roll(words_per_minute: int) -> Roll:
    """Return the roll as it would be read now; only who agreed is on it."""
    supporters = list(Supporter.objects.filter(may_name=True).order_by("key"))
    text = say_names([supporter.name for supporter in supporters])
    words = count_words(text)
    return Roll(
        names=supporters,
        unnamed_count=Supporter.objects.filter(may_name=False).count(),
        text=text,
        words=words,
        seconds=spoken_seconds(words, words_per_minute),
        words_per_minute=words_per_minute,
    )


def roll_rate(episode: Episode | None) -> int:
    """Return the rate of whoever reads the roll on a show, in words a minute."""
    if episode is None:
        return FREE_TALK_WPM
    thanks = episode.segments.filter(kind=SegmentKind.THANKS).order_by("position").first()
    presenter = thanks.presenter if thanks else ""
    return rate_for(presenter, unmeasured_wpm=episode.words_per_minute).words_per_minute


def say_names(names: Sequence[str]) -> str:
    """Return names as one sentence, "" for none; no name holds what parts them."""
    return f"{OPENING}{PARTED.join(names)}." if names else ""


def without_name(sentence: str, name: str) -> str:
    """Return a sentence of say_names without one of its names."""
    names = sentence.removeprefix(OPENING).removesuffix(".").split(PARTED)
    return say_names([each for each in names if each != name])


def fold_name(name: str) -> str:
    """Return a name without capitals, accents and double spaces: the order and the identity."""
    parted = unicodedata.normalize("NFKD", " ".join(name.split()).casefold())
    return "".join(c for c in parted if not unicodedata.combining(c))[: NAME_CHARS * 2]


def read_list(file: IO[bytes]) -> ReadList:
    """Return a table's rows with a proposal what its columns are.

    Raises RefusedInputError, with a sentence, for what is no table or too long.
    """
    layout = read_layout(file)
    rows = list(islice(read_rows(file, layout), MOST_ROWS + 1))
    if len(rows) > MOST_ROWS:
        raise RefusedInputError(f"The list has more than {MOST_ROWS:,} rows. Please cut it.")
    if not rows:
        raise RefusedInputError("The list has a header and no row below it.")
    return ReadList(
        header=tuple(layout.header),
        rows=[{"line": r.line, "cells": list(r.cells), "trouble": r.trouble} for r in rows],
        columns=propose_columns(layout.header),
        remarks=tuple(layout.remarks),
    )


def propose_columns(header: Sequence[str]) -> tuple[str, ...]:
    """Return what each column seems to be; each meaning is given once."""
    chosen: list[str] = []
    for name in header:
        plain = "".join(c for c in fold_name(name) if c.isalnum())
        fits = (k for k, (_, words) in COLUMNS.items() if plain in words.split())
        meaning = next((k for k in fits if k not in chosen), LEAVE_OUT)
        chosen.append(meaning)
    return tuple(chosen)


def look_at_rows(rows: Sequence[Mapping[str, object]], columns: Sequence[str]) -> list[RowLook]:
    """Return what would become of each row."""
    known = {supporter.key: supporter for supporter in Supporter.objects.all()}
    seen: dict[str, int] = {}
    return [_look(row, columns, known, seen) for row in rows]


def _look(
    row: Mapping[str, object],
    columns: Sequence[str],
    known: Mapping[str, Supporter],
    seen: dict[str, int],
) -> RowLook:
    line = int(str(row["line"]))
    if row["trouble"]:
        return RowLook(line, "refused", str(row["trouble"]), {})
    cells: Sequence[str] = row["cells"]  # type: ignore[assignment]
    words = {c: " ".join(v.split()) for c, v in zip(columns, cells, strict=True) if c}
    why = _refuse(words)
    key = fold_name(words.get("name", ""))
    if not why and key in seen:
        why = f"The name stands in line {seen[key]} already."
    if why:
        return RowLook(line, "refused", why, words)
    seen[key] = line
    values: dict[str, object] = dict(words)
    if "may_name" in words:
        values["may_name"] = words["may_name"].casefold() in YES
    old = known.get(key)
    if old is None:
        return RowLook(line, "new", "" if values.get("may_name") else "not to be named", values)
    changed = [COLUMNS[n][0].lower() for n, v in values.items() if getattr(old, n) != v]
    return RowLook(line, "changed" if changed else "known", ", ".join(changed), values)


def _refuse(words: Mapping[str, str]) -> str:
    """Return why a row cannot be used, "" when it can."""
    if not words.get("name"):
        return "There is no name."
    if ";" in words["name"]:
        return NO_SIGN
    for name, limit in LIMITS.items():
        if len(words.get(name, "")) > limit:
            return f"“{COLUMNS[name][0]}” has more than {limit} characters."
    said = words.get("may_name", "").casefold()
    if said not in YES | NO:
        return f"“{said[:40]}” says neither yes nor no to being named."
    return ""
