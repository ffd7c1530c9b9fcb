"""One report in, one diagnosis out: reading, belief, next questions, plan, dangers."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np

from triage.errors import UnknownIdError
from triage.evidence import Evidence, Observation, TriedRemedy
from triage.inference import Posterior, compute_posterior
from triage.knowledge import Knowledge, implied_risks
from triage.previews import preview_answers
from triage.questions import Question, rank_questions
from triage.reading import Facts, Reader, Reading, TextClassifier, says_something
from triage.repair import Plan, plan_repair

MOST_QUESTIONS = 5
MOST_STEPS = 8
FORM_SOURCE = "form"
FACT_NAMES = frozenset(entry.name for entry in fields(Facts)) - {"queries"}
# Share of the weight of what is read that still counts when the text as a whole is weighed too, as
# both are the same words; fitted, see docs/reading.md [judgement: desk, 2026-11-25]
READ_SHARE = 0.4
# P(somebody who writes a report mentions a given thing that is there to see or hear); fitted too
# [judgement: desk, 2026-11-25]
TELLING = 0.1


@dataclass(frozen=True, slots=True)
class ReportInput:
    """What a person sent.

    `findings` are answers to questions: finding id to whether it is so. `tried` holds action
    ids or free text; both count as tried without success, unless the text says otherwise.
    `machine` is the kind of machine, by id or in everyday words.
    `withdrawn` holds findings the text was misread about: what was read of them does not count.
    `misread` holds other things read that the words do not mean, by kind and id: "risk", "tried",
    "guess", "danger", or "fact" and its name. `noted` are findings somebody saw in the words that
    the reader missed; they count like those it read, and in the place of what it read of them.
    """

    id: str | int
    text: str = ""
    process: str | None = None
    material: str | None = None
    machine: str | None = None
    findings: Mapping[str, bool] = field(default_factory=dict)
    tried: tuple[str, ...] = ()
    withdrawn: frozenset[str] = frozenset()
    misread: frozenset[tuple[str, str]] = frozenset()
    noted: tuple[Observation, ...] = ()


@dataclass(frozen=True, slots=True)
class RaisedDanger:
    """A danger, the words that raised it if any, and what the person must be told."""

    id: str
    name: str
    say: str
    caution: str
    quote: str | None


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """All the engine has to say about one report."""

    report: ReportInput
    reading: Reading
    evidence: Evidence
    posterior: Posterior
    questions: tuple[Question, ...]
    plan: Plan
    dangers: tuple[RaisedDanger, ...]


class Diagnoser:
    """Diagnoses reports with one state of the knowledge.

    Make one and keep it: compiling the phrases takes longer than a diagnosis.

    Parameters
    ----------
    knowledge : Knowledge
    reader : Reader or None
        One whose phrases are compiled already, made for a knowledge with the same words: a
        revision changes numbers alone.
    classifier : TextClassifier or None
        What a text as a whole says; without one, only what is read in it counts.
    is_quick : bool
        For many reports at once: questions by entropy, the plan without a search. The belief is
        the same.

    Raises
    ------
    InputError
        If the classifier tells other faults apart than the knowledge has.
    """

    def __init__(
        self,
        knowledge: Knowledge,
        *,
        reader: Reader | None = None,
        classifier: TextClassifier | None = None,
        is_quick: bool = False,
    ) -> None:
        if classifier is not None:
            classifier.check(knowledge)
        self.knowledge = knowledge
        self._reader = reader or Reader(knowledge)
        self._classifier = classifier
        self._is_quick = is_quick

    @property
    def reader(self) -> Reader:
        """The reader of the reports' words."""
        return self._reader

    @property
    def classifier(self) -> TextClassifier | None:
        """What weighs the text as a whole, if anything does."""
        return self._classifier

    def diagnose(self, report: ReportInput) -> Diagnosis:
        """Return the diagnosis of a report.

        Parameters
        ----------
        report : ReportInput
            Its findings outweigh what the text says about the same findings, and its process,
            material and machine what the text says about those.

        Returns
        -------
        Diagnosis

        Raises
        ------
        UnknownIdError
            If a finding or a process is not in the knowledge, or a material, a machine or
            something tried is neither in the knowledge nor understood as text.
        """
        reading, evidence = self._read(report)
        posterior = compute_posterior(self.knowledge, evidence)
        dangers = self._raise_dangers(report, evidence, reading)
        effects = preview_answers(self.knowledge, evidence, posterior)
        return Diagnosis(
            report=report,
            reading=reading,
            evidence=evidence,
            posterior=posterior,
            questions=rank_questions(
                self.knowledge,
                evidence,
                posterior,
                limit=MOST_QUESTIONS,
                effects=effects,
                is_priced=not self._is_quick,
            ),
            plan=plan_repair(
                self.knowledge,
                posterior,
                evidence=evidence,
                dangers=[danger.id for danger in dangers],
                limit=MOST_STEPS,
                effects=effects,
                is_quick=self._is_quick,
            ),
            dangers=dangers,
        )

    def gather(self, report: ReportInput) -> Evidence:
        """Return the evidence of a report, as `diagnose` weighs it.

        Raises
        ------
        UnknownIdError
            As `diagnose` does.
        """
        return self._read(report)[1]

    def resolve_material(self, words: str) -> str:
        """Return the code of a material given by code, by an everyday word or within a few words.

        Raises
        ------
        UnknownIdError
            If no material has that code or word.
        """
        wanted = " ".join(words.casefold().split())
        for material in self.knowledge.materials.values():
            if wanted == material.code.casefold() or wanted in material.words:
                return material.code
        read = self._reader.read(words).facts.material  # "silk PLA", "clear resin"
        if read is not None:
            return read.value
        raise UnknownIdError("material", words, self.knowledge.materials)

    def resolve_machine(self, words: str) -> str:
        """Return the id of a kind of machine given by id, by a word or within a few words.

        Raises
        ------
        UnknownIdError
            If no kind of machine has that id or word.
        """
        wanted = " ".join(words.casefold().split())
        for machine in self.knowledge.machines.values():
            if wanted == machine.id or wanted in machine.words:
                return machine.id
        read = self._reader.read(words).facts.machine  # "my old delta", "bowden bed-slinger"
        if read is not None:
            return read.value
        raise UnknownIdError("machine", words, self.knowledge.machines)

    def resolve_tried(self, words: str) -> tuple[TriedRemedy, ...]:
        """Return the remedies that an action id, an action's name or a free text speaks of.

        Raises
        ------
        UnknownIdError
            If it is no action and the reader finds none in it.
        """
        actions = self.knowledge.actions
        if words in actions:
            return (TriedRemedy(words, "no-change"),)
        wanted = words.casefold().strip()
        named = [action.id for action in actions.values() if action.name.casefold() == wanted]
        if named:
            return (TriedRemedy(named[0], "no-change", words),)
        # A bare name such as "brim" tells of a trial only where something says so.
        read = self._reader.read(f"Tried: {words}").tried
        if not read:
            raise UnknownIdError("action", words, actions)
        # The text's offsets are not the report's, and a report of a failure means no success.
        return tuple(
            replace(
                entry, span=None, result="no-change" if entry.result == "unknown" else entry.result
            )
            for entry in read
        )

    def to_json(self, diagnosis: Diagnosis) -> dict[str, Any]:
        """Return a diagnosis as plain values, in the shape the command line prints."""
        return {
            "id": diagnosis.report.id,
            "faults": [
                {"id": fault.id, "probability": round(fault.probability, 9)}
                for fault in diagnosis.posterior.ranked
            ],
            "findings": [
                {
                    "id": seen.finding,
                    "state": seen.state,
                    "quote": seen.quote,
                    "source": seen.source,
                }
                for seen in diagnosis.evidence.observations
            ],
            "ask": [
                {
                    "id": question.finding,
                    "question": question.question,
                    "gain": round(question.gain_bits, 6),
                    "saves_minutes": round(question.gain_minutes, 3),
                    "cost_minutes": round(question.cost_minutes, 3),
                    "pays": question.pays,
                }
                for question in diagnosis.questions
            ],
            "plan": [
                {
                    "id": step.action,
                    "kind": step.kind,
                    "minutes": step.minutes,
                    "success": round(step.success, 6),
                }
                for step in diagnosis.plan.steps
            ],
            "dangers": [
                {"id": danger.id, "say": danger.say, "quote": danger.quote}
                for danger in diagnosis.dangers
            ],
        }

    def _read(self, report: ReportInput) -> tuple[Reading, Evidence]:
        """Return what was read in a report, and all its evidence."""
        material = None if report.material is None else self.resolve_material(report.material)
        reading = self._reader.read(report.text, process=report.process, material=material)
        machine = None if report.machine is None else self.resolve_machine(report.machine)
        believed = _leave_out(reading, report.misread)
        return reading, self._gather(report, believed, material, machine)

    def _gather(
        self, report: ReportInput, reading: Reading, material: str | None, machine: str | None
    ) -> Evidence:
        """Return the evidence of the report: its own answers, then what was read."""
        noted = [seen.finding for seen in report.noted]
        for finding in (*report.findings, *report.withdrawn, *noted):
            if finding not in self.knowledge.findings:
                raise UnknownIdError("finding", finding, self.knowledge.findings)
        answered = tuple(
            Observation(finding, "present" if is_so else "absent", source=FORM_SOURCE)
            for finding, is_so in report.findings.items()
        )
        overruled = {*report.findings, *report.withdrawn, *noted}
        facts = reading.facts
        process = report.process or (facts.process.value if facts.process else None)
        text = self._weigh_text(report.text, process)
        share = READ_SHARE if text else 1.0
        told = [seen for seen in reading.observations if seen.finding not in overruled]
        told += [seen for seen in report.noted if seen.finding not in report.findings]
        read = tuple(seen.tempered(share) for seen in told)
        tried = [
            entry
            for words in report.tried
            for entry in self.resolve_tried(words)
            if ("tried", entry.action) not in report.misread
        ]
        named = {entry.action for entry in tried}
        material = material or (facts.material.value if facts.material else None)
        machine = machine or (facts.machine.value if facts.machine else None)
        risks = (
            *(risk.id for risk in reading.risks),
            *implied_risks(self.knowledge, material=material, machine=machine),
        )
        return Evidence(
            process=process,
            material=material,
            machine=machine,
            observations=(*answered, *read),
            risks=tuple(dict.fromkeys(risks)),
            tried=(*tried, *(entry for entry in reading.tried if entry.action not in named)),
            guesses=reading.guesses,
            # Who writes "please help, see photo" has told of nothing, and is silent of nothing.
            telling=TELLING if says_something(report.text) else 0.0,
            text=text,
        )

    def _weigh_text(self, text: str, process: str | None) -> Mapping[str, float]:
        """Return what the text as a whole says of the faults a process can have."""
        if self._classifier is None:
            return {}
        network = self.knowledge.network
        occurs = True if process is None else network.occurs[process]
        return self._classifier.log_ratios(text, np.where(occurs, network.prior, 0.0))

    def _raise_dangers(
        self, report: ReportInput, evidence: Evidence, reading: Reading
    ) -> tuple[RaisedDanger, ...]:
        """Return each danger once: those read, then those of findings that are present.

        A danger whose finding is denied or withdrawn by the report stays only when another of
        its findings is present; one that was misread, when an answer says so.
        """
        findings = self.knowledge.findings
        denied = {name for name, is_so in report.findings.items() if not is_so} | report.withdrawn
        misread = {name for kind, name in report.misread if kind == "danger"}
        settled = {findings[name].danger for name in denied} | misread
        quotes: dict[str, str | None] = {
            danger.id: danger.quote for danger in reading.dangers if danger.id not in settled
        }
        for seen in evidence.observations:
            danger = findings[seen.finding].danger
            is_told = seen.source == FORM_SOURCE or danger not in misread
            if danger and is_told and seen.if_present > seen.if_absent:
                quotes.setdefault(danger, seen.quote)
        raised = []
        for name, quote in quotes.items():
            entry = self.knowledge.dangers[name]
            caution = self.knowledge.cautions[entry.caution].text
            raised.append(RaisedDanger(name, entry.name, entry.say, caution, quote))
        return tuple(raised)


def _leave_out(reading: Reading, misread: Collection[tuple[str, str]]) -> Reading:
    """Return a reading without what somebody says its words do not mean."""
    if not misread:
        return reading
    names = {name for kind, name in misread if kind == "fact"}
    facts: dict[str, Any] = dict.fromkeys(names & FACT_NAMES)
    return replace(
        reading,
        risks=tuple(risk for risk in reading.risks if ("risk", risk.id) not in misread),
        tried=tuple(done for done in reading.tried if ("tried", done.action) not in misread),
        guesses=tuple(own for own in reading.guesses if ("guess", own.fault) not in misread),
        facts=replace(reading.facts, **facts),
    )
