"""The trained reader: written from the desk's own verdicts, taken up, and refused when stale."""

import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from django.core.management import call_command

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case
from helpdesk.cases.services import erase_person
from helpdesk.diagnosis.engine import EngineInput, run_engine
from helpdesk.diagnosis.engine.knowledge import get_engine
from helpdesk.diagnosis.services import set_verdict
from tests.factories import make_case

pytestmark = pytest.mark.django_db

WORDS = "My quixotic zeppelin wobbles flamboyantly whenever marmalade meets the trampoline."


@pytest.fixture
def folder(tmp_path: Path, settings: Any) -> Path:
    """Return an empty data folder."""
    settings.DATA_DIR = tmp_path
    return tmp_path


def judge_cases(count: int, fault: str = "belt-loose") -> list[Case]:
    """Return cases told in words no story has, all with the same verdict."""
    cases = [make_case(story=f"{WORDS} Number {at}.") for at in range(count)]
    reviewer = User.objects.create_user("reviewer")
    for case in cases:
        set_verdict(case, [fault], actor=reviewer)
    return cases


def chance(fault: str = "belt-loose") -> float:
    """Return what the engine makes of the odd words."""
    result = run_engine(EngineInput(text=WORDS, story_length=len(WORDS), process="MEX"))
    found = {name: value for name, _, value in result.data["ranking"]}
    return float(found[fault])


def train() -> str:
    """Run the command and return what it says."""
    out = io.StringIO()
    call_command("train_reader", stdout=out)
    return out.getvalue()


def test_training_writes_a_file_the_next_diagnosis_uses(folder: Path) -> None:
    """The desk's own verdicts teach words of its own, without a restart."""
    before = chance()
    judge_cases(6)

    said = train()

    assert " stories and 6 cases" in said
    assert (folder / "reader.npz").is_file()
    assert not list(folder.glob("*.unfinished"))
    assert chance() > 2 * before


def test_training_leaves_erased_words_out(folder: Path) -> None:
    cases = judge_cases(6)
    for case in cases:
        erase_person(case, by="the person")

    assert " stories and 0 cases" in train()
    with np.load(folder / "reader.npz") as held:
        assert not any("zeppelin" in feature for feature in held["features"].tolist())


def test_file_that_cannot_be_read_is_passed_over_with_a_warning(
    folder: Path, caplog: pytest.LogCaptureFixture
) -> None:
    (folder / "reader.npz").write_bytes(b"no classifier")

    assert get_engine().diagnoser.classifier is not None
    assert "The trained reader is not used" in caplog.text


def test_file_of_other_knowledge_is_passed_over_with_a_warning(
    folder: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """The words of the knowledge are part of the training, so a change of it asks for a new one."""
    train()
    path = folder / "reader.npz"
    with np.load(path) as held:
        parts = {**held, "knowledge_version": np.array("of old")}
    np.savez(path, **parts)

    classifier = get_engine().diagnoser.classifier

    assert classifier is not None
    assert classifier.knowledge_version != "of old"
    assert "the knowledge has changed" in caplog.text
