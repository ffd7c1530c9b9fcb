"""The scorecard: the engine and its baselines on reports whose faults are known."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import BinaryIO

import numpy as np

from helpdesk.diagnosis.engine.inputs import EngineInput, report_of
from helpdesk.diagnosis.engine.knowledge import Engine, get_engine
from triage.diagnose import Diagnoser
from triage.lines import Labelled, read_labelled, split_lines
from triage.reading import load_sentence_model
from triage.scoring import (
    DescriptionRanking,
    Judged,
    MeaningRanking,
    Scores,
    forecast_by_prior,
    score_rankings,
)

SEED = 20261125  # of the bootstrap, so that the same reports give the same card
ENGINE, PRIOR, WORDS, MEANING = "engine", "prior", "words", "meaning"


@dataclass(frozen=True)
class Scorecard:
    """How well the faults of some reports were found.

    `knowledge_version` is that of the numbers in force, `revision` their number or None for the
    expert's. `scores` holds those of the engine, of its priors alone, of the words a report
    shares with the descriptions of faults, and, where the sentence model is installed, of how
    near it lies to them in meaning.
    """

    knowledge_version: str
    revision: int | None
    scores: Mapping[str, Scores]

    @property
    def count(self) -> int:
        """Return the number of reports scored."""
        return self.scores[ENGINE].count


def score_lines(stream: BinaryIO, complain: Callable[[str], None]) -> Scorecard | None:
    """Return the card of a stream of labelled JSON lines, or None when none could be used.

    What is refused is said with its line's number, and the rest is scored.
    """
    engine = get_engine()

    def read() -> Iterable[Labelled]:
        for line in split_lines(stream):
            found = read_labelled(engine.diagnoser, line)
            for complaint in found.complaints:
                complain(complaint)
            if found.labelled is not None:
                yield found.labelled

    return _score(engine, read())


def score_inputs(cases: Iterable[tuple[EngineInput, Sequence[str]]]) -> Scorecard | None:
    """Return the card of cases with the faults their verdict names, or None for no case."""
    engine = get_engine()
    return _score(
        engine,
        (Labelled(report_of(engine.diagnoser, given), tuple(labels)) for given, labels in cases),
    )


def _score(engine: Engine, reports: Iterable[Labelled]) -> Scorecard | None:
    """Return the card of labelled reports."""
    judge = _Judge(engine.diagnoser)
    judged: dict[str, list[Judged]] = {}
    for labelled in reports:
        for name, found in judge.judge(labelled).items():
            judged.setdefault(name, []).append(found)
    if not judged:
        return None
    return Scorecard(
        knowledge_version=engine.diagnoser.knowledge.version,
        revision=engine.revision,
        scores={
            # Each has the same draws, so that the intervals differ by the rankings alone.
            name: score_rankings(found, np.random.default_rng(SEED))
            for name, found in judged.items()
        },
    )


class _Judge:
    """Ranks the faults of one report in three ways, in four with the sentence model."""

    def __init__(self, diagnoser: Diagnoser) -> None:
        self._diagnoser = diagnoser
        self._words = DescriptionRanking(diagnoser.knowledge)
        model = load_sentence_model()
        self._meaning = None if model is None else MeaningRanking(diagnoser.knowledge, model)

    def judge(self, labelled: Labelled) -> dict[str, Judged]:
        """Return the rankings; the baselines know the process and material as given."""
        report, labels = labelled.report, labelled.labels
        now = self._diagnoser.diagnose(report).posterior
        material = report.material and self._diagnoser.resolve_material(report.material)
        before = forecast_by_prior(
            self._diagnoser.knowledge, process=report.process, material=material or None
        )
        possible = [fault for fault, chance in before.items() if chance > 0.0]
        rankings = {
            ENGINE: Judged(tuple(fault.id for fault in now.ranked), labels, now.chances),
            PRIOR: Judged(tuple(before), labels, before),
            WORDS: Judged(self._words.rank(report.text, among=possible), labels),
        }
        if self._meaning is not None:
            rankings[MEANING] = Judged(self._meaning.rank(report.text, among=possible), labels)
        return rankings
