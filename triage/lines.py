"""JSON lines in, JSON lines out, for the command line and its workers."""

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, BinaryIO

from triage.diagnose import Diagnoser, ReportInput
from triage.errors import InputError, OutOfRangeError, UnknownIdError, suggest
from triage.knowledge import PROCESSES, Knowledge

LONGEST_LINE = 1 << 20  # bytes; a report of that length is no report
_KEYS = ("id", "text", "process", "material", "machine", "findings", "tried")
_LABELLED_KEYS = (*_KEYS, "labels")


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the input, with its number counted from 1; None when it was too long."""

    number: int
    content: bytes | None


@dataclass(frozen=True, slots=True)
class Answer:
    """What one line gave: a line to print, if any, and what was refused in it."""

    output: str | None
    complaints: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Labelled:
    """A report with the faults it turned out to have, the main one first."""

    report: ReportInput
    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LabelledLine:
    """What one line of labelled reports gave, and what was refused in it."""

    labelled: Labelled | None
    complaints: tuple[str, ...]


def split_lines(stream: BinaryIO) -> Iterator[Line]:
    """Yield the lines of a stream that are not blank, without keeping an overlong one."""
    number = 0
    while chunk := stream.readline(LONGEST_LINE + 1):
        number += 1
        too_long = len(chunk) > LONGEST_LINE
        while too_long and chunk and not chunk.endswith(b"\n"):
            chunk = stream.readline(LONGEST_LINE)
        if too_long:
            yield Line(number, None)
            continue
        content = chunk.removeprefix(b"\xef\xbb\xbf") if number == 1 else chunk
        if content.strip():
            yield Line(number, content)


def answer_line(diagnoser: Diagnoser, line: Line) -> Answer:
    """Return the answer to one line.

    A line that is no report, or whose evidence is impossible, gives no output; an unknown id
    within a report is left out, said, and the rest of the report is diagnosed.
    """
    complaints: list[str] = []
    complain = _complainer(line, complaints)
    try:
        report = _read_report(diagnoser, _parse(line.content), complain)
        # Evidence of probability 0 is noticed only now.
        diagnosis = diagnoser.diagnose(report)
    except InputError as error:
        complain(str(error))
        return Answer(None, tuple(complaints))
    output = json.dumps(diagnoser.to_json(diagnosis), allow_nan=False)
    return Answer(output, tuple(complaints))


def read_labelled(diagnoser: Diagnoser, line: Line) -> LabelledLine:
    """Return the report of one line with its labels.

    A line that is no report, or whose labels are not all faults of the knowledge, gives none; an
    unknown id elsewhere within a report is left out and said.
    """
    complaints: list[str] = []
    complain = _complainer(line, complaints)
    try:
        found = _parse(line.content)
        labels = _read_labels(found.get("labels"), diagnoser.knowledge)
        report = _read_report(diagnoser, found, complain, keys=_LABELLED_KEYS)
    except InputError as error:
        complain(str(error))
        return LabelledLine(None, tuple(complaints))
    return LabelledLine(Labelled(report, labels), tuple(complaints))


def _complainer(line: Line, complaints: list[str]) -> Callable[[str], None]:
    """Return a function that adds a message with the line's number to the complaints."""

    def complain(message: str) -> None:
        complaints.append(f"line {line.number}: {message}")

    return complain


def _read_labels(value: object, knowledge: Knowledge) -> tuple[str, ...]:
    """Return the labels once each, in their order."""
    if not isinstance(value, list) or not value:
        msg = "'labels' must be a list of fault ids, one or more"
        raise InputError(msg)
    for name in value:
        if not isinstance(name, str):
            msg = f"label {name!r} must be a fault id"
            raise InputError(msg)
        if name not in knowledge.faults:
            raise UnknownIdError("fault", name, knowledge.faults)
    return tuple(dict.fromkeys(value))


def _parse(content: bytes | None) -> dict[str, Any]:
    """Return the JSON object of a line."""
    if content is None:
        msg = f"longer than {LONGEST_LINE} bytes"
        raise OutOfRangeError(msg)
    try:
        found = json.loads(content.decode("utf-8"))
    except UnicodeDecodeError as error:
        msg = f"not UTF-8 at byte {error.start + 1}"
        raise InputError(msg) from error
    except json.JSONDecodeError as error:
        msg = f"not JSON: {error.msg} at column {error.colno}"
        raise InputError(msg) from error
    except (ValueError, RecursionError) as error:
        msg = "not JSON this program can hold: a number or a nesting is too large"
        raise InputError(msg) from error
    if not isinstance(found, dict):
        msg = "not a JSON object in curly brackets"
        raise InputError(msg)
    return found


def _read_report(
    diagnoser: Diagnoser,
    found: dict[str, Any],
    complain: Callable[[str], None],
    *,
    keys: Sequence[str] = _KEYS,
) -> ReportInput:
    """Return the report, leaving out and saying what cannot be used."""
    for key in found:
        if key not in keys:
            complain(f"unknown key '{key}' left out{suggest(key, keys)}")
    name = found.get("id")
    if isinstance(name, bool) or not isinstance(name, str | int):
        msg = "'id' must be a text or a whole number"
        raise InputError(msg)
    text = found.get("text", "" if found.get("findings") else None)
    if not isinstance(text, str):
        msg = "'text' must be a text"
        raise InputError(msg)
    return ReportInput(
        id=name,
        text=text,
        process=_read_process(found.get("process"), complain),
        material=_read_named(
            "material", found.get("material"), diagnoser.resolve_material, complain
        ),
        machine=_read_named("machine", found.get("machine"), diagnoser.resolve_machine, complain),
        findings=dict(_read_findings(diagnoser, found.get("findings"), complain)),
        tried=tuple(_read_tried(diagnoser, found.get("tried"), complain)),
    )


def _read_process(value: object, complain: Callable[[str], None]) -> str | None:
    """Return the process; an empty or unknown one is left out."""
    if value is None or value == "":
        return None
    if value not in PROCESSES:
        complain(f"unknown process {value!r} left out; valid are {', '.join(PROCESSES)}")
        return None
    return str(value)


def _read_named(
    key: str, value: object, resolve: Callable[[str], str], complain: Callable[[str], None]
) -> str | None:
    """Return the code of a material or a machine; an empty or unknown one is left out."""
    if value is None or value == "":
        return None
    if not isinstance(value, str):
        complain(f"'{key}' must be a text; left out")
        return None
    try:
        return resolve(value)
    except UnknownIdError as error:
        complain(f"{error}; left out")
        return None


def _read_findings(
    diagnoser: Diagnoser, value: object, complain: Callable[[str], None]
) -> Iterable[tuple[str, bool]]:
    """Yield the findings with their answers."""
    if value is None:
        return
    if not isinstance(value, dict):
        complain("'findings' must be an object of finding ids and true or false; left out")
        return
    valid = diagnoser.knowledge.findings
    for name, is_so in value.items():
        if name not in valid:
            complain(f"{UnknownIdError('finding', name, valid)}; left out")
        elif is_so is None:  # not looked at
            continue
        elif not isinstance(is_so, bool):
            complain(f"finding '{name}' must be true or false; left out")
        else:
            yield name, is_so


def _read_tried(
    diagnoser: Diagnoser, value: object, complain: Callable[[str], None]
) -> Iterable[str]:
    """Yield what was tried, as far as it is understood."""
    if value is None:
        return
    if not isinstance(value, list):
        complain("'tried' must be a list of action ids or texts; left out")
        return
    for words in value:
        if not isinstance(words, str):
            complain("an entry of 'tried' must be a text; left out")
            continue
        try:
            diagnoser.resolve_tried(words)
        except UnknownIdError as error:
            complain(f"{error}; left out")
        else:
            yield words
