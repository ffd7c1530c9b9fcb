"""What somebody says of the reading of a report changes its evidence and nothing else."""

from pathlib import Path

import pytest

from tests.triage.folder import write_folder
from triage.diagnose import Diagnoser, ReportInput
from triage.errors import UnknownIdError
from triage.evidence import Observation
from triage.knowledge import load_knowledge

TEXT = (
    "The PLA print has strings all over. I dried the spool but nothing changed. "
    "The spool was open for a month. I think it is wet filament."
)


@pytest.fixture
def diagnoser(tmp_path: Path) -> Diagnoser:
    """Return a diagnoser with the small knowledge."""
    return Diagnoser(load_knowledge(write_folder(tmp_path)))


def misread(*pairs: tuple[str, str]) -> ReportInput:
    """Return the report with some readings taken back."""
    return ReportInput("a", TEXT, misread=frozenset(pairs))


def test_everything_of_the_text_is_read(diagnoser: Diagnoser) -> None:
    evidence = diagnoser.diagnose(ReportInput("a", TEXT)).evidence

    assert evidence.tried
    assert evidence.risks
    assert evidence.guesses
    assert evidence.material == "PLA"


def test_remedy_that_was_misread_is_no_evidence_and_stays_in_the_reading(
    diagnoser: Diagnoser,
) -> None:
    diagnosis = diagnoser.diagnose(misread(("tried", "dry-filament")))

    assert diagnosis.evidence.tried == ()
    assert [done.action for done in diagnosis.reading.tried] == ["dry-filament"]


def test_remedy_that_was_misread_counts_from_no_field_either(diagnoser: Diagnoser) -> None:
    report = ReportInput(
        "a", "", tried=("dried the spool",), misread=frozenset({("tried", "dry-filament")})
    )

    assert diagnoser.gather(report).tried == ()


def test_circumstance_guess_and_material_that_were_misread_are_no_evidence(
    diagnoser: Diagnoser,
) -> None:
    told = diagnoser.gather(ReportInput("a", TEXT))
    pairs = [("risk", name) for name in told.risks]
    pairs += [("guess", own.fault) for own in told.guesses]

    evidence = diagnoser.gather(misread(*pairs, ("fact", "material"), ("fact", "no-such")))

    assert (evidence.risks, evidence.guesses, evidence.material) == ((), (), None)
    assert evidence.observations == told.observations


def test_finding_somebody_noted_counts_as_if_it_had_been_read(diagnoser: Diagnoser) -> None:
    read = diagnoser.diagnose(ReportInput("a", "It has strings all over.", process="MEX"))
    (seen,) = read.evidence.observations

    noted = diagnoser.diagnose(
        ReportInput("a", "It looks hairy, honestly.", process="MEX", noted=(seen,))
    )

    assert noted.evidence.observations == (seen,)
    assert noted.posterior.chances["filament-wet"] == pytest.approx(
        read.posterior.chances["filament-wet"]
    )


def test_noted_finding_stands_in_for_what_was_read_and_below_an_answer(
    diagnoser: Diagnoser,
) -> None:
    absent = Observation("fine-strings", "absent", 0.05, 0.9, source="text")

    told = diagnoser.gather(ReportInput("a", TEXT, noted=(absent,)))
    answered = diagnoser.gather(
        ReportInput("a", TEXT, noted=(absent,), findings={"fine-strings": True})
    )

    assert [seen.state for seen in told.observations] == ["absent"]
    assert [(seen.state, seen.source) for seen in answered.observations] == [("present", "form")]


def test_unknown_finding_noted_is_refused(diagnoser: Diagnoser) -> None:
    with pytest.raises(UnknownIdError, match="no-such"):
        diagnoser.gather(ReportInput("a", TEXT, noted=(Observation("no-such", "present"),)))


def test_danger_that_was_misread_stays_off_until_an_answer_raises_it(
    diagnoser: Diagnoser,
) -> None:
    text = "The plug of the printer is scorched."
    raised = diagnoser.diagnose(ReportInput("a", text)).dangers
    assert len(raised) == 1
    taken_back = frozenset({("danger", raised[0].id)})
    signs = [e.id for e in diagnoser.knowledge.findings.values() if e.danger == raised[0].id]

    off = diagnoser.diagnose(ReportInput("a", text, misread=taken_back))
    answered = diagnoser.diagnose(
        ReportInput("a", text, misread=taken_back, findings={signs[0]: True})
    )

    assert off.dangers == ()
    assert [danger.id for danger in answered.dangers] == [raised[0].id]
