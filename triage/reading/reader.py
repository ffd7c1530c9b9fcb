"""Reading a report: from messy text to observations, risks, tried remedies, guesses and facts."""

import copy
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Self

from triage.evidence import Guess, Observation, TriedRemedy
from triage.knowledge import ANY_PROCESS, Knowledge, Phrases
from triage.reading.cues import CUE_KIND, cue_patterns
from triage.reading.facts import Facts, read_facts
from triage.reading.foreign import FOREIGN_KIND, foreign_patterns, note_foreign_dangers
from triage.reading.letters import QUOTED_NOTE
from triage.reading.mentions import (
    ReadDanger,
    ReadRisk,
    leave_out_harmless,
    read_dangers,
    read_guesses,
    read_observations,
    read_risks,
)
from triage.reading.names import read_machine_name, read_maker
from triage.reading.patterns import Match, PhraseIndex, Target
from triage.reading.praise import read_praise
from triage.reading.reliability import PhraseKey, Reliability, name_phrases
from triage.reading.scope import Scopes
from triage.reading.subject import (
    MACHINE_KIND,
    MATERIAL_KIND,
    PROCESS_KIND,
    PROCESS_PATTERNS,
    WordFact,
    read_most_named,
    read_process,
)
from triage.reading.tokens import READ_LIMIT, Document, tokenise
from triage.reading.tried import read_tried


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """The words a reader knows, as plain tables.

    Parameters
    ----------
    phrases : mapping of kind to id to Phrases
        Kinds are "finding", "risk", "tried", "guess" and "danger".
    material_words : mapping of material code to sequence of str
        Names people use for a material.
    material_process : mapping of material code to process
        Process each material belongs to.
    machine_words : mapping of machine id to sequence of str
        Names people use for a kind of machine.
    finding_process : mapping of finding id to process
        Findings of another process than the report's are not read; "any" fits all.
    remedy_process : mapping of action id to process
        Likewise for remedies that were tried.
    finding_danger : mapping of finding id to danger id
        Dangers raised by findings.
    """

    phrases: Mapping[str, Mapping[str, Phrases]]
    material_words: Mapping[str, Sequence[str]] = field(default_factory=dict)
    material_process: Mapping[str, str] = field(default_factory=dict)
    machine_words: Mapping[str, Sequence[str]] = field(default_factory=dict)
    finding_process: Mapping[str, str] = field(default_factory=dict)
    remedy_process: Mapping[str, str] = field(default_factory=dict)
    finding_danger: Mapping[str, str] = field(default_factory=dict)

    @classmethod
    def from_knowledge(cls, knowledge: Knowledge) -> Self:
        """Return the words of the knowledge files."""
        materials, findings = knowledge.materials, knowledge.findings
        return cls(
            phrases=knowledge.phrases,
            material_words={code: entry.words for code, entry in materials.items()},
            material_process={code: entry.process for code, entry in materials.items()},
            machine_words={name: entry.words for name, entry in knowledge.machines.items()},
            finding_process={name: entry.process for name, entry in findings.items()},
            remedy_process={name: entry.process for name, entry in knowledge.actions.items()},
            finding_danger={
                name: entry.danger for name, entry in findings.items() if entry.danger is not None
            },
        )


@dataclass(frozen=True, slots=True)
class Reading:
    """What a text says; every item carries its words and their place in the text.

    Parameters
    ----------
    observations : tuple of Observation
        At most one for each finding, soft.
    risks : tuple of ReadRisk
        Circumstances stated.
    tried : tuple of TriedRemedy
        Remedies already tried, with their result.
    guesses : tuple of Guess
        Causes the person supposes.
    advice : tuple of Guess
        Causes somebody else suggested to the person.
    facts : Facts
        Process, material and settings; `facts.queries` holds values that make no sense.
    dangers : tuple of ReadDanger
        Dangers mentioned.
    notes : tuple of str
        Sentences about the reading itself, such as that a long text was cut.
    attempts : int
        Patterns tried at a word, a measure of the work that does not depend on the machine.
    phrases : mapping of (kind, id) to PhraseKey
        The phrase each finding, circumstance, remedy and guess was read by.
    """

    observations: tuple[Observation, ...]
    risks: tuple[ReadRisk, ...]
    tried: tuple[TriedRemedy, ...]
    guesses: tuple[Guess, ...]
    advice: tuple[Guess, ...]
    facts: Facts
    dangers: tuple[ReadDanger, ...]
    notes: tuple[str, ...]
    attempts: int
    phrases: Mapping[tuple[str, str], PhraseKey] = field(default_factory=dict, hash=False)


class Reader:
    """Reads texts with one set of phrases; make it once, it is immutable and safe to share.

    Parameters
    ----------
    words : Knowledge or Vocabulary
        Where the phrases come from.

    Raises
    ------
    KnowledgeError
        If a phrase cannot be parsed; the message names its kind and id.
    """

    def __init__(self, words: Knowledge | Vocabulary) -> None:
        vocabulary = words if isinstance(words, Vocabulary) else Vocabulary.from_knowledge(words)
        self._vocabulary = vocabulary
        self._index = PhraseIndex(
            [*_phrase_patterns(vocabulary), *cue_patterns(), *foreign_patterns()]
        )
        self._reliability = Reliability()

    def relying_on(self, reliability: Reliability) -> Self:
        """Return a reader of the same phrases that takes each for as reliable as was counted."""
        reader = copy.copy(self)
        reader._reliability = reliability
        return reader

    def read(
        self, text: str, *, process: str | None = None, material: str | None = None
    ) -> Reading:
        """Return what `text` says; never raises, whatever the text.

        Parameters
        ----------
        text : str
            The report as it came. Only the first READ_LIMIT characters are read.
        process, material : str, optional
            What is known from elsewhere; it goes before what the text says.
        """
        document = tokenise(text)
        search = self._index.search(document)
        by_kind: dict[str, list[Match]] = {}
        for match in (*search.matches, *read_praise(document, self._index, search.matches)):
            by_kind.setdefault(match.target.kind, []).append(match)
        scopes = Scopes(document, by_kind.get(CUE_KIND, ()))
        stuff = (
            WordFact(material)
            if material is not None
            else read_most_named(document, by_kind.get(MATERIAL_KIND, ()))
        )
        way = (
            WordFact(process)
            if process is not None
            else read_process(
                document,
                by_kind.get(PROCESS_KIND, ()),
                material=stuff,
                processes=self._vocabulary.material_process,
            )
        )
        stuff_words = _words_of(by_kind.get(MATERIAL_KIND, ()))
        spoken = stuff_words | _words_of(by_kind.get(MACHINE_KIND, ()))
        named_by = self._vocabulary.finding_danger
        harmless = [match for match in by_kind.get("danger", ()) if match.target.side == "absent"]
        told = leave_out_harmless(by_kind.get("finding", ()), harmless, named_by)
        known = None if way is None else way.value
        # Alcohol alone makes no resin print, but resin or PLA does tell which remedies fit.
        sure = known if process is not None or stuff is not None else None
        findings = [
            match
            for match in told
            if self._fits(self._vocabulary.finding_process, match.target.id, known)
        ]
        remedies = [
            match
            for match in by_kind.get("tried", ())
            if self._fits(self._vocabulary.remedy_process, match.target.id, sure)
        ]
        observations = read_observations(document, scopes, findings, dangerous=named_by)
        guesses, advice = read_guesses(document, scopes, by_kind.get("guess", ()))
        reading = Reading(
            observations=observations,
            risks=read_risks(document, scopes, by_kind.get("risk", ())),
            tried=read_tried(
                document,
                scopes,
                remedies,
                process_of=self._vocabulary.remedy_process,
                still_failing=any(seen.state == "present" for seen in observations),
            ),
            guesses=guesses,
            advice=advice,
            facts=read_facts(
                document,
                process=way,
                material=stuff,
                machine=read_most_named(document, by_kind.get(MACHINE_KIND, ())),
                machine_name=read_machine_name(document, spoken=spoken),
                maker=read_maker(document, spoken=spoken, stuff=stuff_words),
            ),
            dangers=read_dangers(
                document,
                scopes,
                [*leave_out_harmless(by_kind.get("danger", ()), harmless, named_by), *told],
                observations=observations,
                named_by=named_by,
            ),
            notes=(
                *note_foreign_dangers(document, by_kind.get(FOREIGN_KIND, ())),
                *_notes(document),
            ),
            attempts=search.attempts,
        )
        phrases = name_phrases(document, by_kind, reading)
        return self._reliability.weigh(replace(reading, phrases=phrases))

    @staticmethod
    def _fits(processes: Mapping[str, str], name: str, known: str | None) -> bool:
        own = processes.get(name, ANY_PROCESS)
        return known is None or own in {ANY_PROCESS, known}


CUT_NOTE = f"Only the first {READ_LIMIT:,} characters were read."
"""Note on a reading of a longer text."""


def read_text(
    knowledge: Knowledge, text: str, *, process: str | None = None, material: str | None = None
) -> Reading:
    """Return what `text` says; for more than one text make a `Reader` once and keep it."""
    return Reader(knowledge).read(text, process=process, material=material)


def _notes(document: Document) -> tuple[str, ...]:
    """Return sentences about what was passed over."""
    told = ((document.cut, CUT_NOTE), (document.quoted, QUOTED_NOTE))
    return tuple(note for is_so, note in told if is_so)


def _words_of(matches: Sequence[Match]) -> frozenset[int]:
    """Return the indices of all words that matches cover."""
    return frozenset(at for match in matches for at in range(match.first, match.last + 1))


def _phrase_patterns(vocabulary: Vocabulary) -> Iterator[tuple[Target, str]]:
    for kind, book in vocabulary.phrases.items():
        for name, phrases in book.items():
            for pattern in phrases.present:
                yield Target(kind, name, "present"), pattern
            for pattern in phrases.absent:
                yield Target(kind, name, "absent"), pattern
            for pattern in phrases.named:
                yield Target(kind, name, "named"), pattern
    for code, names in vocabulary.material_words.items():
        for name in names:
            yield Target(MATERIAL_KIND, code, ""), name
    for machine, names in vocabulary.machine_words.items():
        for name in names:
            yield Target(MACHINE_KIND, machine, ""), name
    for process, patterns in PROCESS_PATTERNS.items():
        for pattern in patterns:
            yield Target(PROCESS_KIND, process, ""), pattern
