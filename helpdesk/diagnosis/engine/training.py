"""Learning how reliable phrases are from what people said of readings."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from helpdesk.diagnosis.engine.inputs import EngineInput, report_of
from helpdesk.diagnosis.engine.knowledge import expert_diagnoser
from helpdesk.diagnosis.engine.reliability import keep_reliability
from triage.reading import Judgement, PhraseKey, Reading, Reliability

# A reading that stands on a case with a verdict, beside one that somebody judged: whoever settled
# the case may not have looked at it [judgement: desk, 2026-11-25]
STANDING_WEIGHT = 0.2


@dataclass(frozen=True)
class JudgedReadings:
    """The words of a case, and whether what was read in them is right, by kind and id.

    `has_verdict` tells that somebody settled the case, so that what stands was not objected to.
    """

    given: EngineInput
    said: Mapping[tuple[str, str], bool]
    has_verdict: bool


@dataclass(frozen=True)
class TrainedPhrases:
    """What was learnt: where it is kept, of how many judgements, and which had no phrase.

    `judged` are readings somebody judged, `standing` those left standing on settled cases,
    `passed_over` judgements of words that are not read by a phrase today.
    """

    path: Path
    judged: int
    standing: int
    passed_over: int


def train_phrases(cases: Iterable[JudgedReadings]) -> TrainedPhrases:
    """Count how often each phrase was read rightly, and write it.

    Cases are read anew with the phrases of today. Findings that raise a danger are never counted
    as misread.
    """
    diagnoser = expert_diagnoser()
    reader = diagnoser.reader.relying_on(Reliability())
    judgements: list[Judgement] = []
    counts = Counter[str]()
    for case in cases:
        report = report_of(diagnoser, case.given)
        reading = reader.read(report.text, process=report.process, material=report.material)
        for named, is_right in case.said.items():
            key = reading.phrases.get(named)
            counts["judged" if key else "passed_over"] += 1
            if key:
                judgements.append(Judgement(key, is_right))
        if case.has_verdict:
            standing = _standing(case, reading)
            counts["standing"] += len(standing)
            judgements += [Judgement(key, True, STANDING_WEIGHT) for key in standing]
    findings = diagnoser.knowledge.findings.values()
    spared = {entry.id for entry in findings if entry.danger is not None}
    learnt = Reliability.learn(judgements, spared=spared)
    path = keep_reliability(learnt)
    return TrainedPhrases(path, counts["judged"], counts["standing"], counts["passed_over"])


def _standing(case: JudgedReadings, reading: Reading) -> list[PhraseKey]:
    """Return the phrases of what was read and nobody contradicted or judged."""
    states = {seen.finding: seen.state == "present" for seen in reading.observations}
    replaced = case.given.withdrawn | {words.finding for words in case.given.noted}
    return [
        key
        for (kind, name), key in reading.phrases.items()
        if (kind, name) not in case.said
        and (kind, name) not in case.given.misread
        and not (kind == "finding" and name in replaced)
        and not (kind == "finding" and case.given.marks.get(name, states[name]) != states[name])
    ]
