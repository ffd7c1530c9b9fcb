"""What the engine understands of words that are still being written; nothing of it is kept."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from helpdesk.diagnosis.engine.catalogue import action_info, finding_info
from helpdesk.diagnosis.engine.facts import list_said
from helpdesk.diagnosis.engine.inputs import EngineInput, report_of, respondent_of
from helpdesk.diagnosis.engine.knowledge import expert_knowledge, get_engine
from helpdesk.diagnosis.engine.language import find_foreign
from helpdesk.diagnosis.engine.words import RESULT_WORDS, UNSURE_BELOW
from triage.diagnose import Diagnosis
from triage.evidence import Observation
from triage.questions import rank_questions

MOST_DETAILS = 3  # questions beside a form that is being filled in [judgement: desk, 2026-11-25]


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
    """What was understood.

    `language` names a language that is not read, "" for English, and `passages` those of parts
    of the text that were passed over.
    """

    findings: tuple[ReadFinding, ...] = ()
    facts: tuple[ReadWords, ...] = ()
    tried: tuple[ReadWords, ...] = ()
    dangers: tuple[str, ...] = ()
    details: tuple[Detail, ...] = ()
    language: str = ""
    passages: tuple[str, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Return True when nothing was understood."""
        read = self.findings or self.facts or self.tried or self.dangers
        return not (read or self.passages)


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
    foreign = find_foreign(text)
    if foreign.is_all:
        return Preview(language=foreign.languages[0])
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
        passages=foreign.languages,
    )


def read_findings(text: str) -> tuple[ReadFinding, ...]:
    """Return the findings read in the English of a text."""
    reading = get_engine().diagnoser.reader.read(find_foreign(text).english)
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
    return tuple(
        ReadWords(said.label, said.value, said.quote) for said in list_said(diagnosis.reading.facts)
    )


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
