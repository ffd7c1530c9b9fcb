"""What people say of readings moves what phrases are worth, and goes to who keeps them."""

import io
import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case
from helpdesk.cases.services import Consent, erase_person
from helpdesk.diagnosis.engine import EngineInput, preview_text, run_engine, train_phrases
from helpdesk.diagnosis.engine.knowledge import get_engine
from helpdesk.diagnosis.engine.training import TrainedPhrases
from helpdesk.diagnosis.judged_readings import list_judged_readings
from helpdesk.diagnosis.selectors import get_view
from helpdesk.diagnosis.services import (
    correct_reading,
    diagnose_case,
    erase_corrections,
    mark_finding,
    note_reading,
    set_verdict,
)
from tests.factories import make_case, make_user

pytestmark = pytest.mark.django_db
STORY = "Hello there. The corners curl up from the plate. My printer is a Tern 220."
AGREED = Consent(may_publish_answer=True)
TRIED_STORY = "The corners curl up from the plate. I dried the filament but nothing changed."


@pytest.fixture
def folder(tmp_path: Path, settings: Any) -> Path:
    """Return an empty data folder."""
    settings.DATA_DIR = tmp_path
    return tmp_path


@pytest.fixture
def reviewer(db: None) -> User:
    return make_user("imke", first_name="Imke", last_name="Sandoval")


def told(count: int, story: str = STORY, **more: Any) -> list[Case]:
    """Return cases the engine has looked at, all told in the same words."""
    cases = [make_case(story=story, **more) for _ in range(count)]
    for case in cases:
        diagnose_case(case.pk, cause="test")
    return cases


def sureness(story: str = STORY, finding: str = "corners-lifted") -> float:
    """Return how sure the engine is of a finding in a fresh report."""
    result = run_engine(EngineInput(text=story, story_length=len(story), process="MEX"))
    found = next(entry for entry in result.data["findings"] if entry["id"] == finding)
    return float(found["sureness"])


def call(command: str, *args: str) -> tuple[str, str]:
    """Run a command; return what it says on both streams."""
    out, err = io.StringIO(), io.StringIO()
    call_command(command, *args, stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


def learn() -> TrainedPhrases:
    """Learn from what was said of readings, as the command does beside the classifier."""
    return train_phrases(list_judged_readings())


def export() -> list[dict[str, Any]]:
    """Return the exported lines."""
    return [json.loads(line) for line in call("export_corrections")[0].splitlines()]


def test_phrase_denied_five_times_weighs_less_in_the_next_report(
    folder: Path, reviewer: User
) -> None:
    before = sureness()
    for case in told(5):
        mark_finding(case, "corners-lifted", "unknown", actor=reviewer)

    learnt = learn()

    assert learnt.judged == 5
    assert (folder / "phrases.json").is_file()
    assert not list(folder.glob("*.unfinished"))
    assert sureness() < before - 0.1
    assert sureness("The edges lifted off the bed.") == pytest.approx(before, abs=0.01)


def test_training_again_counts_the_same(folder: Path, reviewer: User) -> None:
    """Cases are read as the knowledge reads them, not as what was learnt would."""
    for case in told(5):
        mark_finding(case, "corners-lifted", "unknown", actor=reviewer)
    learn()
    first = (folder / "phrases.json").read_bytes()

    learn()

    assert (folder / "phrases.json").read_bytes() == first


def test_readings_left_standing_on_a_settled_case_count_weakly(
    folder: Path, reviewer: User
) -> None:
    open_case, settled = told(2)
    set_verdict(settled, ["belt-loose"], actor=reviewer)

    learn()

    rows = json.loads((folder / "phrases.json").read_text())["phrases"]
    corners = [row for row in rows if row["key"][1] == "corners-lifted"]
    assert [(row["right"], row["wrong"]) for row in corners] == [(0.2, 0.0)]
    assert open_case.pk != settled.pk


@pytest.mark.parametrize("state", ["absent", "unknown"])
def test_what_was_contradicted_is_not_left_standing(
    folder: Path, reviewer: User, state: str
) -> None:
    (case,) = told(1)
    mark_finding(case, "corners-lifted", state, actor=reviewer)
    set_verdict(case, ["belt-loose"], actor=reviewer)

    learn()

    rows = json.loads((folder / "phrases.json").read_text())["phrases"]
    assert not any(row["right"] for row in rows if row["key"][1] == "corners-lifted")


def test_remedy_often_misread_is_no_longer_read(folder: Path, reviewer: User) -> None:
    for case in told(9, TRIED_STORY):
        (line,) = [entry for entry in read(case) if entry.about == "tried"]
        correct_reading(case, "tried", line.name, is_right=False, actor=reviewer)

    learn()

    assert preview_text(TRIED_STORY, process="MEX").tried == ()
    (fresh,) = told(1, TRIED_STORY)
    view = get_view(fresh)
    assert view is not None
    assert any("was not counted" in words for words in view.notes)


def read(case: Case) -> Any:
    """Return what the page lists as read."""
    view = get_view(case)
    assert view is not None
    return view.readings


def test_erased_cases_are_left_out(folder: Path, reviewer: User) -> None:
    for case in told(5, consent=AGREED):
        mark_finding(case, "corners-lifted", "unknown", actor=reviewer)
        erase_corrections(case)
        erase_person(case, by="the person")

    learnt = learn()

    assert (learnt.judged, learnt.standing) == (0, 0)
    assert json.loads((folder / "phrases.json").read_text())["phrases"] == []
    assert export() == []


@pytest.mark.parametrize(
    "content", [b"no json", b"{}", b'{"format": 1, "phrases": [{}]}', b"\xff\xfe", b"[" * 100_000]
)
def test_file_that_cannot_be_read_is_passed_over_with_a_warning(
    folder: Path, caplog: pytest.LogCaptureFixture, content: bytes
) -> None:
    (folder / "phrases.json").write_bytes(content)

    assert get_engine().diagnoser.reader.read(STORY).observations
    assert "What was learnt of phrases is not used" in caplog.text


def test_export_holds_the_sentence_and_what_was_said_of_it(reviewer: User) -> None:
    (case,) = told(1, consent=AGREED)
    mark_finding(case, "corners-lifted", "unknown", actor=reviewer)

    assert export() == [
        {
            "kind": "finding",
            "id": "corners-lifted",
            "state": "present",
            "judged": "wrong",
            "words": "corners curl",
            "sentence": "The corners curl up from the plate",
        }
    ]


def test_export_proposes_a_phrase_for_what_was_missed(reviewer: User) -> None:
    (case,) = told(1, "It went up like a banana at both ends.", consent=AGREED)
    note_reading(case, "corners-lifted", "present", words="up like a banana", actor=reviewer)

    (line,) = export()

    assert (line["judged"], line["proposal"]) == ("missed", "up like banana")


def test_export_leaves_out_who_did_not_agree_and_says_so(reviewer: User) -> None:
    (case,) = told(1)
    mark_finding(case, "corners-lifted", "unknown", actor=reviewer)

    out, err = call("export_corrections")

    assert out == ""
    assert "Left out: 1, the person did not agree" in err


def test_export_hides_names_and_addresses(reviewer: User) -> None:
    story = "Bettine here bettine@tarnstreet.example the corners curl see"
    (case,) = told(1, story, consent=AGREED)
    mark_finding(case, "corners-lifted", "unknown", actor=reviewer)

    (line,) = export()

    assert line["sentence"] == "… here … the corners curl see"


def test_export_writes_a_file_or_says_why_not(tmp_path: Path, reviewer: User) -> None:
    (case,) = told(1, consent=AGREED)
    mark_finding(case, "corners-lifted", "unknown", actor=reviewer)

    _, err = call("export_corrections", "--output", str(tmp_path / "said.jsonl"))

    assert json.loads((tmp_path / "said.jsonl").read_text(encoding="utf-8"))["judged"] == "wrong"
    assert "Written: 1" in err
    with pytest.raises(CommandError, match="cannot be written"):
        call("export_corrections", "--output", str(tmp_path))


def test_reports_in_other_languages_teach_nothing(folder: Path, reviewer: User) -> None:
    (case,) = told(1, "Die Ecken meiner Schachtel lösen sich nach einer Stunde vom Druckbett.")
    set_verdict(case, ["belt-loose"], actor=reviewer)

    said, _ = call("train_reader")

    assert " and 0 cases" in said
    assert "Phrases: 0 readings judged, 0 left standing, 0 not read by a phrase now" in said
    assert "Left out: 1, not in English" in said
