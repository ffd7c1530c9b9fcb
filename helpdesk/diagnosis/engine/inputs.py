"""What is known of a case, and the same as the engine takes it."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from helpdesk.diagnosis.engine.catalogue import finding_info
from helpdesk.diagnosis.engine.language import find_foreign
from triage.diagnose import Diagnoser, ReportInput
from triage.errors import UnknownIdError
from triage.evidence import Observation
from triage.questions import Respondent
from triage.reading import Weight, likelihood_pair


@dataclass(frozen=True)
class NotedWords:
    """A finding somebody of the desk saw in words the reader passed over."""

    finding: str
    state: str
    quote: str
    start: int
    end: int


@dataclass(frozen=True, kw_only=True)
class EngineInput:
    """What is known of a case.

    `text` begins with the first report's story, which is `story_length` characters long.
    `marks` maps findings to what somebody of the desk or the person said, `mark_sources` to who.
    What was read of a `withdrawn` finding does not count. Findings in `settled` are not asked.
    `misread` holds other readings that are taken back, by kind and id; `noted` what the reader
    missed. The last four say what the person who would be asked can answer.
    """

    text: str
    story_length: int
    process: str = ""
    material: str = ""
    machine: str = ""
    tried: tuple[str, ...] = ()
    marks: Mapping[str, bool] = field(default_factory=dict)
    mark_sources: Mapping[str, str] = field(default_factory=dict)
    withdrawn: frozenset[str] = frozenset()
    settled: frozenset[str] = frozenset()
    misread: frozenset[tuple[str, str]] = frozenset()
    noted: tuple[NotedWords, ...] = ()
    has_print: bool = True
    has_printer: bool = True
    sends_photos: bool = True
    refused_tools: frozenset[str] = frozenset()


def report_of(diagnoser: Diagnoser, given: EngineInput) -> ReportInput:
    """Return the case as the engine takes it, without words it could not resolve or read."""
    findings = diagnoser.knowledge.findings
    return ReportInput(
        id=0,
        text=find_foreign(given.text).english,
        process=given.process or None,
        material=material_code(diagnoser, given.material),
        machine=machine_kind(diagnoser, given.machine),
        findings={name: so for name, so in given.marks.items() if name in findings},
        tried=tuple(words for words in given.tried if _is_understood(diagnoser, words)),
        withdrawn=frozenset(name for name in given.withdrawn if name in findings),
        misread=given.misread,
        noted=tuple(_as_read(words) for words in given.noted if words.finding in findings),
    )


def _as_read(words: NotedWords) -> Observation:
    """Return words somebody noted as if the reader had read them plainly."""
    is_present = words.state == "present"
    is_danger = bool(finding_info(words.finding).danger)
    if_present, if_absent = likelihood_pair(Weight.PLAIN, present=is_present, is_danger=is_danger)
    return Observation(
        finding=words.finding,
        state="present" if is_present else "absent",
        if_present=if_present,
        if_absent=if_absent,
        source="text",
        quote=words.quote,
        span=(words.start, words.end),
    )


def material_code(diagnoser: Diagnoser, words: str) -> str | None:
    """Return the code of a material written freely ("Matt PLA+, teal"), or None."""
    spoken = words.replace(",", " ").replace("/", " ")
    for candidate in (spoken, *spoken.split()):
        if not candidate.strip():
            continue
        try:
            return diagnoser.resolve_material(candidate)
        except UnknownIdError:
            continue
    return None


def machine_kind(diagnoser: Diagnoser, words: str) -> str | None:
    """Return the kind of a machine written freely ("old delta, enclosed"), or None."""
    if not words.strip():
        return None
    try:
        return diagnoser.resolve_machine(words)
    except UnknownIdError:
        return None


def respondent_of(given: EngineInput) -> Respondent:
    """Return the person who would be asked, as the engine takes them."""
    return Respondent(
        process=given.process or None,
        refused=given.refused_tools,
        has_print=given.has_print,
        has_printer=given.has_printer,
        sends_photos=given.sends_photos,
        asked=given.settled,
    )


def _is_understood(diagnoser: Diagnoser, words: str) -> bool:
    """Return True when the engine finds a remedy in what was tried."""
    try:
        return bool(diagnoser.resolve_tried(words))
    except UnknownIdError:
        return False
