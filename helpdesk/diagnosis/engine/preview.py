"""What the engine understands of words that are still being written; nothing of it is kept."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from helpdesk.diagnosis.engine.catalogue import action_info, finding_info
from helpdesk.diagnosis.engine.facts import settings_said
from helpdesk.diagnosis.engine.knowledge import expert_knowledge, get_engine
from helpdesk.diagnosis.engine.language import foreign_language
from helpdesk.diagnosis.engine.running import EngineInput, report_of, respondent_of
from helpdesk.diagnosis.engine.words import RESULT_WORDS, UNSURE_BELOW
from triage.diagnose import Diagnosis
from triage.evidence import Observation
from triage.questions import rank_questions

MOST_DETAILS = 3  # questions beside a form that is being filled in [judgement: desk, 2026-11-25]
PROCESS_WORDS = {"MEX": "melted filament or granules", "VPP": "liquid resin and light"}


@dataclass(frozen=True)
class ReadFinding:
    """A finding read in the words, with those words and their place in the text."""

    id: str
    name: str
    state: str
    quote: str
    start: int
    end: int
    is_sure: bool


@dataclass(frozen=True)
class ReadWords:
    """A setting, a material or a tried remedy: what it was understood as, and the words."""

    label: str
    value: str
    quote: str


@dataclass(frozen=True)
class Detail:
    """A detail that would help: a question answered with yes, no or not known."""

    finding: str
    question: str
    help: str


@dataclass(frozen=True)
class Preview:
    """What was understood; `language` names a language that is not read, "" for English."""

    findings: tuple[ReadFinding, ...] = ()
    facts: tuple[ReadWords, ...] = ()
    tried: tuple[ReadWords, ...] = ()
    dangers: tuple[str, ...] = ()
    details: tuple[Detail, ...] = ()
    language: str = ""

    @property
    def is_empty(self) -> bool:
        """Return True when nothing was understood."""
        return not (self.findings or self.facts or self.tried or self.dangers)


def preview_text(
    text: str,
    *,
    process: str = "",
    material: str = "",
    machine: str = "",
    tried: str = "",
    said: Mapping[str, bool] | None = None,
    settled: Collection[str] = (),
    withdrawn: Collection[str] = (),
) -> Preview:
    """Return what the engine in force understands of a text.

    `said` holds answers to details, `settled` the details the writer cannot tell, `withdrawn`
    the findings the writer says were misread. Ids the knowledge has not are passed over.
    """
    language = foreign_language(text)
    if language:
        return Preview(language=language)
    known = expert_knowledge().findings
    given = EngineInput(
        text=text,
        story_length=len(text),
        process=process,
        material=material,
        machine=machine,
        tried=(tried,) if tried else (),
        marks={name: so for name, so in (said or {}).items() if name in known},
        settled=frozenset(name for name in settled if name in known),
        withdrawn=frozenset(name for name in withdrawn if name in known),
    )
    diagnoser = get_engine().diagnoser
    diagnosis = diagnoser.diagnose(report_of(diagnoser, given))
    left_out = given.withdrawn | given.marks.keys()
    return Preview(
        findings=tuple(
            _finding(look)
            for look in diagnosis.reading.observations
            if look.finding not in left_out
        ),
        facts=_facts(diagnosis),
        tried=_tried(diagnosis),
        dangers=tuple(danger.say for danger in diagnosis.dangers),
        details=_details(diagnosis, given) if text.strip() else (),
    )


def read_findings(text: str) -> tuple[ReadFinding, ...]:
    """Return the findings read in a text, none in one that is not English."""
    if foreign_language(text):
        return ()
    reading = get_engine().diagnoser.reader.read(text)
    return tuple(_finding(look) for look in reading.observations)


def _finding(look: Observation) -> ReadFinding:
    likely = max(look.if_present, look.if_absent) / (look.if_present + look.if_absent)
    start, end = look.span or (-1, -1)
    return ReadFinding(
        id=look.finding,
        name=finding_info(look.finding).name,
        state=look.state,
        quote=look.quote or "",
        start=start,
        end=end,
        is_sure=likely >= UNSURE_BELOW,
    )


def _facts(diagnosis: Diagnosis) -> tuple[ReadWords, ...]:
    """Return process, material, machine and settings that were read from the words."""
    read, knowledge = diagnosis.reading.facts, expert_knowledge()
    found = []
    if read.process is not None and read.process.quote:
        words = PROCESS_WORDS.get(read.process.value, read.process.value)
        found.append(ReadWords("How it prints", words, read.process.quote))
    if read.material is not None and read.material.quote:
        found.append(ReadWords("Material", read.material.value, read.material.quote))
    if read.machine is not None and read.machine.quote:
        name = knowledge.machines[read.machine.value].name
        found.append(ReadWords("Kind of printer", name, read.machine.quote))
    if read.maker is not None:
        found.append(ReadWords("Who made it", read.maker.value, read.maker.quote or ""))
    if read.machine_name is not None:
        found.append(ReadWords("Printer", read.machine_name.value, read.machine_name.quote or ""))
    return (*found, *(ReadWords(*said) for said in settings_said(read)))


def _tried(diagnosis: Diagnosis) -> tuple[ReadWords, ...]:
    return tuple(
        ReadWords(action_info(entry.action).name, RESULT_WORDS[entry.result], entry.quote or "")
        for entry in diagnosis.evidence.tried
    )


def _details(diagnosis: Diagnosis, given: EngineInput) -> tuple[Detail, ...]:
    """Return the questions that would help most and are neither answered nor withdrawn."""
    ranked = rank_questions(
        get_engine().diagnoser.knowledge,
        diagnosis.evidence,
        diagnosis.posterior,
        respondent=respondent_of(given),
        limit=MOST_DETAILS + len(given.withdrawn),
    )
    infos = [finding_info(q.finding) for q in ranked if q.finding not in given.withdrawn]
    return tuple(Detail(i.id, i.question, i.help) for i in infos[:MOST_DETAILS])
