"""What the columns of a table are: proposed from header words and values, settled by a person."""

import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from helpdesk.capture.dates import looks_like_date

LEAVE_OUT = ""
STORY = "story"
SAMPLE_ROWS = 200
ENOUGH = 0.8  # of the filled cells [judgement: desk design, 2026-11]


@dataclass(frozen=True)
class Target:
    """Something a column may be: its name for people and the words a header may say it with."""

    label: str
    words: str  # separated by spaces, each a header without spaces and signs


TARGETS: Mapping[str, Target] = {
    STORY: Target(
        "What happened (needed)",
        "story description problem report whathappened words text issue details message",
    ),
    "title": Target("Title", "title subject headline summary print part model"),
    "link": Target("Address of the post", "link url address post permalink source"),
    "channel": Target("Came by", "channel camefrom cameby via route"),
    "handle": Target("Handle", "handle user username nick nickname account"),
    "handle_where": Target("Where the handle is", "where server network place platform group"),
    "person_name": Target("Name", "name person sender reporter from fullname author"),
    "email": Target("E-mail", "email mail emailaddress mailaddress"),
    "owner_name": Target("Passed on for (owner)", "owner ownername printof passedonfor"),
    "machine": Target("Printer", "printer machine printername device"),
    "material": Target("Material", "material filament resin plastic materialtype"),
    "material_maker": Target("Maker of the material", "maker brand manufacturer materialmaker"),
    "batch": Target("Batch or lot", "batch lot batchnumber lotnumber"),
    "process": Target("Process (MEX or VPP)", "process technology method"),
    "layer_height_mm": Target("Layer height, mm", "layerheight layer layerheightmm layermm"),
    "nozzle_mm": Target("Nozzle, mm", "nozzle nozzlemm nozzlesize nozzlediameter nozzlewidth"),
    "nozzle_c": Target("Nozzle, °C", "nozzlec nozzletemp nozzletemperature hotend temperature"),
    "bed_c": Target("Plate, °C", "bed bedc bedtemp bedtemperature plate platetemp platec"),
    "speed_mm_s": Target("Speed, mm/s", "speed speedmms printspeed"),
    "failed_at_mm": Target("Failed at, mm", "failedat failedatmm height failureheight"),
    "tried": Target("Tried before", "tried attempts alreadytried triedbefore"),
    "opened_at": Target(
        "Date of the report", "date openedat opened received receivedon created createdat reported"
    ),
    "answer": Target("Answer given", "answer reply advice response solution answertext"),
    "answered_at": Target("Date of the answer", "answered answeredat answeredon answerdate"),
    "fault": Target("What it was (fault)", "fault cause verdict diagnosis rootcause faultid"),
    "outcome": Target("Did it work", "outcome result worked solved fixed didithelp"),
    "outcome_words": Target("What they said of it", "outcomewords feedback comment"),
    "state": Target("State", "state status open closed"),
}
_SIGNS = re.compile(r"[\W_]+")
_MAIL = re.compile(r"[^\s@]+@[^\s@]+\.[^\s@]+")
_LINK = re.compile(r"https?://\S+", re.IGNORECASE)


def propose_columns(header: Sequence[str], sample: Sequence[Sequence[str]]) -> tuple[str, ...]:
    """Return a target for each column, LEAVE_OUT where there is no good reason for one.

    Header words come first; then values tell addresses, dates, and the longest texts.
    """
    chosen = [LEAVE_OUT] * len(header)
    for place, name in enumerate(header):
        target = _by_words(name)
        if target not in chosen:
            chosen[place] = target
    _by_values(chosen, sample, "email", _MAIL.fullmatch)
    _by_values(chosen, sample, "link", _LINK.fullmatch)
    _by_values(chosen, sample, "opened_at", looks_like_date)
    if STORY not in chosen:
        lengths = {
            place: sum(len(row[place]) for row in sample)
            for place, target in enumerate(chosen)
            if target == LEAVE_OUT
        }
        longest = max(lengths, key=lambda place: lengths[place], default=None)
        if longest is not None and lengths[longest]:
            chosen[longest] = STORY
    return tuple(chosen)


def _by_words(name: str) -> str:
    """Return the target a header names."""
    plain = _SIGNS.sub("", unicodedata.normalize("NFKD", name).casefold())
    for target, said in TARGETS.items():
        if plain in said.words.split() or plain == _SIGNS.sub("", target):
            return target
    return LEAVE_OUT


def _by_values(
    chosen: list[str],
    sample: Sequence[Sequence[str]],
    target: str,
    fits: Callable[[str], object],
) -> None:
    """Give a target that is still free to the first free column whose cells mostly fit."""
    if target in chosen:
        return
    for place, taken in enumerate(chosen):
        cells = [row[place].strip() for row in sample if row[place].strip()]
        if (
            taken == LEAVE_OUT
            and cells
            and sum(bool(fits(cell)) for cell in cells) >= ENOUGH * len(cells)
        ):
            chosen[place] = target
            return
