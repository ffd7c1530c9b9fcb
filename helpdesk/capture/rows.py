"""From one row of a table to a report and what became of it, or to the reason why not."""

import datetime
import hashlib
import json
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

from django.core.exceptions import ValidationError
from django.core.validators import URLValidator, validate_email

from helpdesk.capture.columns import LEAVE_OUT, STORY, TARGETS
from helpdesk.capture.dates import DateOrder, UnreadableDateError, read_moment
from helpdesk.capture.limits import LEAST_LETTERS, STORY_LIMIT
from helpdesk.cases.models import Case, CaseState, Channel, OutcomeResult, Process
from helpdesk.cases.services import NewReport
from helpdesk.core import clock
from helpdesk.core.fields import LINK_CHARS, WEB_SCHEMES, has_letters, read_measure
from helpdesk.diagnosis.engine import list_faults
from helpdesk.incoming.measures import FACT_MEASURES

ANSWER_LIMIT = 20_000
TRIED_LIMIT = 5_000
MOST_FAULTS = 3
LINES = ("title", "handle", "handle_where", "person_name", "owner_name")
FACT_LINES = ("machine", "material", "material_maker", "batch")
PROCESS_WORDS = {
    Process.MEX.value: "mex extrusion filament fff granules",
    Process.VPP.value: "vpp resin vat sla",
    Process.UNKNOWN.value: "unknown not-known ?",
}
CHANNEL_WORDS = {
    Channel.WEB.value: "web form web-form website",
    Channel.MAIL.value: "mail e-mail email letter",
    Channel.CHAT.value: "chat chat-server server",
    Channel.DIRECT.value: "direct dm message direct-message",
    Channel.SOCIAL.value: "social post social-post",
    Channel.PERSON.value: "person in-person bench spoken",
    Channel.OTHER.value: "other another-way",
}
OUTCOME_WORDS = {
    OutcomeResult.WORKED.value: "worked yes solved fixed it-worked",
    OutcomeResult.PARTLY.value: "partly helped-a-little helped better",
    OutcomeResult.DID_NOT_WORK.value: "failed no did-not-work not-solved it-did-not-work",
    OutcomeResult.NOT_TRIED.value: "untried not-tried unknown",
}
STATE_WORDS = {
    CaseState.RECEIVED.value: "open received new",
    CaseState.ANSWERED.value: "answered",
    CaseState.CLOSED.value: "closed done finished solved",
}
_is_url = URLValidator(schemes=WEB_SCHEMES)


@dataclass(frozen=True, kw_only=True)
class RowReport:
    """A row as a report, with what is known of how it went on."""

    new: NewReport
    opened_at: datetime.datetime | None = None
    answer: str = ""
    answered_at: datetime.datetime | None = None
    faults: tuple[str, ...] = ()
    outcome: str = ""
    outcome_words: str = ""
    state: str = ""


@dataclass(frozen=True, kw_only=True)
class RowPlan:
    """How the cells of a table's rows are taken."""

    header: Sequence[str]
    columns: Sequence[str]
    date_order: DateOrder | None = None
    channel: str = Channel.OTHER.value
    faults: Mapping[str, str] = field(default_factory=lambda: name_faults())


class RefusedRowError(ValueError):
    """A row cannot be taken; the message says which cell and why."""


def name_faults() -> dict[str, str]:
    """Return fault ids by what a table may call them: the id or the name, in any case."""
    named: dict[str, str] = {}
    for info in list_faults():
        named[_plain(info.name)] = info.id
    return named | {_plain(info.id): info.id for info in list_faults()}


def row_key(header: Sequence[str], cells: Sequence[str], seen: Counter[bytes]) -> str:
    """Return what names a row for good: its filled cells by header, and which of several alike.

    The order of columns and empty cells do not count, so a row is known again in a later copy of
    the table. `seen` counts the rows before it.
    """
    filled = sorted((name, cell) for name, cell in zip(header, cells, strict=False) if cell)
    digest = hashlib.sha256(json.dumps(filled, ensure_ascii=False).encode()).digest()[:16]
    seen[digest] += 1
    return f"table:{digest.hex()}:{seen[digest]}"


def read_row(cells: Sequence[str], key: str, plan: RowPlan) -> RowReport:
    """Return the report of a row; raises RefusedRowError for the first thing that does not fit."""
    given = {
        target: cell.strip()
        for target, cell in zip(plan.columns, cells, strict=True)
        if target != LEAVE_OUT and cell.strip()
    }
    opened_at = _moment(given, "opened_at", plan)
    report = RowReport(
        new=_new_report(given, _leftover(cells, plan), key, plan),
        opened_at=opened_at,
        answer=_text(given, "answer", ANSWER_LIMIT),
        answered_at=_moment(given, "answered_at", plan) or opened_at,
        faults=_faults(given, plan),
        outcome=_word(given, "outcome", OUTCOME_WORDS),
        outcome_words=_text(given, "outcome_words", TRIED_LIMIT),
        state=_word(given, "state", STATE_WORDS),
    )
    if report.answer and not report.answered_at:
        raise RefusedRowError("The answer has no date, and neither has the report.")
    if opened_at and report.answered_at and report.answered_at < opened_at:
        raise RefusedRowError("The answer is dated before the report.")
    return report


def _new_report(
    given: Mapping[str, str], leftover: Mapping[str, str], key: str, plan: RowPlan
) -> NewReport:
    """Return the report itself; nothing may be shown of it."""
    story = _text(given, STORY, STORY_LIMIT)
    if not has_letters(story, LEAST_LETTERS):
        raise RefusedRowError("There are no words of what happened.")
    lines = {name: _line(given, name) for name in LINES}
    channel = _word(given, "channel", CHANNEL_WORDS) or plan.channel
    email, link = _email(given), _link(given)
    facts: dict[str, Any] = {name: _line(given, name) for name in FACT_LINES}
    facts |= {name: _measure(given, name) for name in FACT_MEASURES}
    facts["process"] = _word(given, "process", PROCESS_WORDS)
    facts["tried"] = _text(given, "tried", TRIED_LIMIT)
    return NewReport(
        story=story,
        submission_key=key,
        channel=channel,
        facts=facts,
        facts_as_sent={n: given[n] for n in facts if n in given} | dict(leftover),
        email=email,
        reply_channel=Channel.MAIL.value if email else channel,
        is_own_print=not lines["owner_name"],
        owner_link=link if lines["owner_name"] else "",
        link=link,
        title=lines["title"],
        handle=lines["handle"],
        handle_where=lines["handle_where"],
        person_name=lines["person_name"],
        owner_name=lines["owner_name"],
    )


def _leftover(cells: Sequence[str], plan: RowPlan) -> dict[str, str]:
    """Return the filled cells of the columns that are nothing the desk knows, by header."""
    return {
        name: cell.strip()[:TRIED_LIMIT]
        for name, target, cell in zip(plan.header, plan.columns, cells, strict=True)
        if target == LEAVE_OUT and cell.strip()
    }


def _text(given: Mapping[str, str], name: str, limit: int) -> str:
    """Return a text with plain line ends, refused when it is too long."""
    text = given.get(name, "").replace("\r\n", "\n").replace("\r", "\n")
    if len(text) > limit:
        raise RefusedRowError(
            f"{_label(name)}: {len(text):,} characters, where {limit:,} can be kept."
        )
    return text


def _line(given: Mapping[str, str], name: str) -> str:
    """Return a text in one line, refused when the case has no room for it."""
    limit = getattr(Case._meta.get_field(name), "max_length", None) or 0
    return _text({name: " ".join(given.get(name, "").split())}, name, limit)


def _email(given: Mapping[str, str]) -> str:
    return _checked(given, "email", validate_email, "is no e-mail address", 254)


def _link(given: Mapping[str, str]) -> str:
    link = _checked(given, "link", _is_url, "is no address of a web page", LINK_CHARS)
    return link if urlsplit(link).scheme in WEB_SCHEMES else ""


def _checked(
    given: Mapping[str, str], name: str, check: Callable[[str], None], wrong: str, limit: int
) -> str:
    text = _text(given, name, limit)
    try:
        if text:
            check(text)
    except ValidationError:
        raise RefusedRowError(f"{_label(name)}: “{text[:60]}” {wrong}.") from None
    return text


def _measure(given: Mapping[str, str], name: str) -> float | None:
    """Return a figure in the desk's unit."""
    if name not in given:
        return None
    try:
        return read_measure(given[name], FACT_MEASURES[name])
    except ValidationError as error:
        raise RefusedRowError(f"{_label(name)}: {error.messages[0]}") from None


def _moment(given: Mapping[str, str], name: str, plan: RowPlan) -> datetime.datetime | None:
    """Return a moment that has come."""
    if name not in given:
        return None
    try:
        moment = read_moment(given[name], order=plan.date_order)
    except UnreadableDateError as error:
        raise RefusedRowError(f"{_label(name)}: {error}") from None
    now = clock.now()
    if moment > now + datetime.timedelta(days=1):
        raise RefusedRowError(f"{_label(name)}: “{given[name][:40]}” has not come yet.")
    return min(moment, now)  # noon of today may lie ahead


def _word(given: Mapping[str, str], name: str, known: Mapping[str, str]) -> str:
    """Return the value one of its words stands for, "" for an empty cell."""
    if name not in given:
        return ""
    said = _plain(given[name])
    for value, words in known.items():
        if said == _plain(value) or said in map(_plain, words.split()):
            return value
    offered = ", ".join(words.split()[0] for words in known.values())
    raise RefusedRowError(f"{_label(name)}: “{given[name][:40]}” is none of {offered}.")


def _faults(given: Mapping[str, str], plan: RowPlan) -> tuple[str, ...]:
    """Return the fault ids of a cell that names them by id or name, parted by semicolons."""
    said = [part.strip() for part in given.get("fault", "").split(";") if part.strip()]
    found = []
    for name in said:
        fault = plan.faults.get(_plain(name))
        if fault is None:
            raise RefusedRowError(f"{_label('fault')}: there is no fault called “{name[:60]}”.")
        found.append(fault)
    if len(found) > MOST_FAULTS:
        raise RefusedRowError(f"{_label('fault')}: at most {MOST_FAULTS} can be named.")
    return tuple(dict.fromkeys(found))


def _label(name: str) -> str:
    return TARGETS[name].label


def _plain(text: str) -> str:
    """Return a text in small letters with one hyphen for whatever parts its words."""
    return "-".join(text.casefold().replace("-", " ").replace("_", " ").split())
