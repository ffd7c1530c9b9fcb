"""One report in, one diagnosis out, with the small knowledge folder."""

import json
import pickle
from pathlib import Path

import pytest

from tests.triage.folder import write_folder
from triage.diagnose import READ_SHARE, Diagnoser, ReportInput
from triage.errors import UnknownIdError
from triage.knowledge import Story, load_knowledge
from triage.reading import TextClassifier

TEXT = "The PLA print has strings all over. I dried the spool but nothing changed."


@pytest.fixture
def diagnoser(tmp_path: Path) -> Diagnoser:
    """Return a diagnoser with the small knowledge."""
    return Diagnoser(load_knowledge(write_folder(tmp_path)))


def test_text_becomes_evidence_with_quotes(diagnoser: Diagnoser) -> None:
    """Material, process, finding and tried remedy are taken from the text."""
    evidence = diagnoser.diagnose(ReportInput("a", TEXT)).evidence

    assert (evidence.process, evidence.material) == ("MEX", "PLA")
    (seen,) = evidence.observations
    assert (seen.finding, seen.state, seen.source) == ("fine-strings", "present", "text")
    assert seen.span is not None
    assert TEXT[slice(*seen.span)] == seen.quote
    (tried,) = evidence.tried
    assert (tried.action, tried.result) == ("dry-filament", "no-change")


def test_strings_raise_wet_filament_and_a_failed_drying_lowers_it(diagnoser: Diagnoser) -> None:
    """The posterior moves the way the evidence points."""
    chances = [
        diagnoser.diagnose(ReportInput("a", text)).posterior.chances["filament-wet"]
        for text in ("A PLA print failed.", "A PLA print has strings.", TEXT)
    ]

    assert chances[0] < 0.08  # nothing was told, though strings and popping would show
    assert chances[1] > 2 * chances[0]
    assert chances[2] < chances[1]


def test_only_a_text_can_be_silent(diagnoser: Diagnoser) -> None:
    """Without a text nothing was kept silent, and the prior stands."""
    silent = diagnoser.diagnose(ReportInput("a", " \n", process="MEX")).posterior

    assert silent.chances["filament-wet"] == pytest.approx(0.08)


def test_answers_outweigh_the_text(diagnoser: Diagnoser) -> None:
    """An answer on the form replaces what the text says about the same finding."""
    report = ReportInput("a", TEXT, findings={"fine-strings": False, "corners-lifted": True})

    observations = diagnoser.diagnose(report).evidence.observations

    assert [(seen.finding, seen.state, seen.source) for seen in observations] == [
        ("fine-strings", "absent", "form"),
        ("corners-lifted", "present", "form"),
    ]


def test_form_outweighs_the_text_on_process_and_material(diagnoser: Diagnoser) -> None:
    """What the form says about process and material is taken."""
    report = ReportInput("a", "PLA print with soft details", process="VPP", material=" Resin ")

    evidence = diagnoser.diagnose(report).evidence

    assert (evidence.process, evidence.material) == ("VPP", "RESIN")


@pytest.mark.parametrize("words", ["PLA", " pla+ ", "silk PLA, blue"])
def test_material_is_understood_as_code_word_or_text(diagnoser: Diagnoser, words: str) -> None:
    """A code in any case, an everyday word and a few words with one among them."""
    assert diagnoser.resolve_material(words) == "PLA"


def test_danger_read_from_the_text_tops_the_plan(diagnoser: Diagnoser) -> None:
    """A scorched plug is raised with its words, its saying and its safety step."""
    diagnosis = diagnoser.diagnose(ReportInput("a", "The plug is scorched and strings appear."))

    (danger,) = diagnosis.dangers
    assert danger.id == "scorched-plug"
    assert danger.quote == "plug is scorched"
    assert danger.say.startswith("Please switch the printer off")
    assert "electrician" in danger.caution
    assert diagnosis.plan.steps[0].action == "unplug-printer"


def test_danger_answered_on_the_form_is_raised_too(diagnoser: Diagnoser) -> None:
    """A dangerous finding answered with yes raises its danger, without words."""
    yes = diagnoser.diagnose(ReportInput("a", findings={"brown-plug": True}))
    no = diagnoser.diagnose(ReportInput("a", findings={"brown-plug": False}))

    assert [(danger.id, danger.quote) for danger in yes.dangers] == [("scorched-plug", None)]
    assert no.dangers == ()


@pytest.mark.parametrize(
    "words", ["dry-filament", "Dry the spool", " dry the SPOOL", "I dried the filament overnight"]
)
def test_tried_is_understood_as_id_name_or_text(diagnoser: Diagnoser, words: str) -> None:
    """An id, a name in any case and a sentence all mean the same remedy, without success."""
    (tried,) = diagnoser.diagnose(ReportInput("a", tried=(words,))).evidence.tried

    assert (tried.action, tried.result, tried.span) == ("dry-filament", "no-change", None)


def test_tried_text_may_tell_its_result(diagnoser: Diagnoser) -> None:
    """A sentence that says it helped is taken at its word."""
    report = ReportInput("a", tried=("dried the filament, which helped a bit",))

    (tried,) = diagnoser.diagnose(report).evidence.tried

    assert tried.result == "helped"


def test_tried_on_the_form_outweighs_the_text(diagnoser: Diagnoser) -> None:
    """The same remedy in the text is not counted a second time."""
    tried = diagnoser.diagnose(ReportInput("a", TEXT, tried=("dry-filament",))).evidence.tried

    assert [entry.quote for entry in tried] == [None]


def test_risks_and_guesses_are_taken_from_the_text(diagnoser: Diagnoser) -> None:
    """A circumstance and a guessed cause shift the prior."""
    evidence = diagnoser.diagnose(
        ReportInput("a", "The spool was left open for a month. Maybe wet filament?")
    ).evidence

    assert evidence.risks == ("open-spool",)
    assert [guess.fault for guess in evidence.guesses] == ["filament-wet"]


@pytest.mark.parametrize(
    ("report", "message"),
    [
        (ReportInput("a", findings={"fine-string": True}), "unknown finding .* 'fine-strings'"),
        (ReportInput("a", tried=("dry-filaments",)), "unknown action .* 'dry-filament'"),
        (ReportInput("a", material="PLAA"), "unknown material .* 'PLA'"),
        (ReportInput("a", process="FFX"), "unknown process 'FFX'"),
    ],
)
def test_unknown_ids_are_refused_with_the_nearest(
    diagnoser: Diagnoser, report: ReportInput, message: str
) -> None:
    """Nothing unknown is passed over in silence."""
    with pytest.raises(UnknownIdError, match=message):
        diagnoser.diagnose(report)


def test_json_has_the_agreed_shape(diagnoser: Diagnoser) -> None:
    """Keys, order and numbers are those scripts rely on."""
    diagnosis = diagnoser.diagnose(ReportInput("a", TEXT + " The plug is scorched."))

    found = json.loads(json.dumps(diagnoser.to_json(diagnosis)))

    assert list(found) == ["id", "faults", "findings", "ask", "plan", "dangers"]
    assert found["id"] == "a"
    assert len(found["faults"]) == 4
    falling = [fault["probability"] for fault in found["faults"]]
    assert falling == sorted(falling, reverse=True)
    assert falling[-1] == 0.0
    assert found["findings"][0] == {
        "id": "fine-strings",
        "state": "present",
        "quote": "strings",
        "source": "text",
    }
    assert set(found["ask"][0]) == {
        "id",
        "question",
        "gain",
        "saves_minutes",
        "cost_minutes",
        "pays",
    }
    assert found["plan"][0] == {
        "id": "unplug-printer",
        "kind": "safety",
        "minutes": 1.0,
        "success": 0.0,
    }
    assert found["dangers"][0]["id"] == "scorched-plug"


def test_diagnoser_survives_pickling(diagnoser: Diagnoser) -> None:
    """Workers that are not forked get their diagnoser through a pipe."""
    copy = pickle.loads(pickle.dumps(diagnoser))  # noqa: S301  our own bytes

    report = ReportInput("a", TEXT)
    assert copy.to_json(copy.diagnose(report)) == diagnoser.to_json(diagnoser.diagnose(report))


def test_diagnoser_takes_a_reader_compiled_before(diagnoser: Diagnoser) -> None:
    """Other numbers with the same words need no compiling, and read the same."""
    other = Diagnoser(diagnoser.knowledge, reader=diagnoser.reader)

    report = ReportInput("a", TEXT)
    assert other.reader is diagnoser.reader
    assert other.to_json(other.diagnose(report)) == diagnoser.to_json(diagnoser.diagnose(report))


@pytest.fixture
def both(diagnoser: Diagnoser) -> Diagnoser:
    """Return a diagnoser that weighs the text as a whole too."""
    stories = [
        *(Story(f"Sugar floss between towers, number {at}.", ("filament-wet",)) for at in range(6)),
        *(Story(f"An edge curls up, case {at}.", ("shrinkage-warp",)) for at in range(6)),
    ]
    knowledge = diagnoser.knowledge
    classifier = TextClassifier.train(stories, knowledge)
    return Diagnoser(knowledge, reader=diagnoser.reader, classifier=classifier)


def test_words_no_phrase_knows_move_the_faults_their_stories_tell_of(
    diagnoser: Diagnoser, both: Diagnoser
) -> None:
    report = ReportInput("a", "There is sugar floss on my towers.", process="MEX")

    without, found = diagnoser.diagnose(report), both.diagnose(report)

    assert not found.evidence.observations
    assert found.evidence.text["filament-wet"] > 0.0
    assert without.evidence.text == {}
    assert found.posterior.chances["filament-wet"] > without.posterior.chances["filament-wet"]
    assert found.posterior.chances["shrinkage-warp"] < without.posterior.chances["shrinkage-warp"]


def test_what_is_read_weighs_less_beside_the_text_as_a_whole(
    diagnoser: Diagnoser, both: Diagnoser
) -> None:
    """The same words are not counted twice; the answers of a form are other words."""
    report = ReportInput("a", TEXT, findings={"corners-lifted": True})

    (answer, read) = both.diagnose(report).evidence.observations
    (_, alone) = diagnoser.diagnose(report).evidence.observations

    assert answer.is_certain
    assert read == alone.tempered(READ_SHARE)
    assert 1.0 < read.if_present / read.if_absent < alone.if_present / alone.if_absent


def test_text_as_a_whole_leaves_the_shape_of_the_answer(
    diagnoser: Diagnoser, both: Diagnoser
) -> None:
    """Callers of the command line see the same keys."""
    plain = diagnoser.to_json(diagnoser.diagnose(ReportInput("a", TEXT)))
    weighed = both.to_json(both.diagnose(ReportInput("a", TEXT)))

    assert plain.keys() == weighed.keys()
    assert plain["findings"] == weighed["findings"]
    json.dumps(weighed, allow_nan=False)


def test_gathered_evidence_is_that_of_the_diagnosis(both: Diagnoser) -> None:
    report = ReportInput("a", TEXT)

    assert both.gather(report) == both.diagnose(report).evidence


def test_diagnoser_with_a_classifier_can_be_sent_to_a_worker(both: Diagnoser) -> None:
    report = ReportInput("a", TEXT)
    again = pickle.loads(pickle.dumps(both))  # noqa: S301  our own bytes

    assert again.diagnose(report).evidence == both.diagnose(report).evidence
