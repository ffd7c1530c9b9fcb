"""The scorecard: labelled lines, the desk's own cases, and what is refused."""

import io
import json
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from helpdesk.accounts.models import User
from helpdesk.cases.services import erase_person
from helpdesk.diagnosis.judged_cases import list_judged_cases
from helpdesk.diagnosis.models import Verdict
from helpdesk.diagnosis.services import diagnose_case, mark_finding, set_verdict
from tests.factories import make_case
from triage.reading.meaning import is_model_installed

pytestmark = pytest.mark.django_db

REPORTS: list[dict[str, Any]] = [
    {
        "id": "a",
        "text": "The corners of my big box lift from the plate after an hour. I print ABS.",
        "process": "MEX",
        "material": "ABS",
        "labels": ["shrinkage-warp"],
    },
    {
        "id": "b",
        "text": "Fine strings everywhere and it pops and hisses while printing.",
        "findings": {"popping-sounds": True},
        "labels": ["filament-wet"],
    },
    {
        "id": "c",
        "text": "Something is odd about the top.",
        "labels": ["top-layers-too-few", "filament-wet"],
    },
]


def write_lines(folder: Path, *lines: Mapping[str, Any] | str) -> str:
    """Write labelled lines to a file and return its name."""
    path = folder / "labelled.jsonl"
    texts = [line if isinstance(line, str) else json.dumps(line) for line in lines]
    path.write_text("\n".join(texts) + "\n", encoding="utf-8")
    return str(path)


def run_card(*words: str) -> dict[str, Any]:
    """Run the command and return its JSON."""
    out = io.StringIO()
    call_command("scorecard", *words, "--json", stdout=out)
    found: dict[str, Any] = json.loads(out.getvalue())
    return found


def test_card_of_labelled_lines_agrees_with_the_engine(tmp_path: Path) -> None:
    """The hits are those of the rankings the engine's own command line prints."""
    card = run_card("--input", write_lines(tmp_path, *REPORTS))

    assert card["count"] == 3
    ranked = _diagnose()
    for first in (1, 3, 5):
        hits = [
            not set(ranked[report["id"]][:first]).isdisjoint(report["labels"]) for report in REPORTS
        ]
        assert card["engine"]["figures"][f"hit@{first}"]["value"] == pytest.approx(sum(hits) / 3)
    assert set(card["prior"]["figures"]) == set(card["engine"]["figures"])
    assert "brier" not in card["words"]["figures"]
    assert card["knowledge"]["version"]
    assert card["knowledge"]["revision"] is None


def test_sentence_model_has_a_column_or_is_said_to_be_missing(tmp_path: Path) -> None:
    out = io.StringIO()
    name = write_lines(tmp_path, *REPORTS)

    card = run_card("--input", name)
    call_command("scorecard", "--input", name, stdout=out)

    if is_model_installed():
        assert set(card["meaning"]["figures"]) == set(card["words"]["figures"])
        assert "sentence model alone" in out.getvalue()
    else:
        assert card["meaning"] is None
        assert "the extra 'meaning' is not installed" in out.getvalue()


def test_table_has_every_figure_beside_its_baselines(tmp_path: Path) -> None:
    """Contract: hits, mean reciprocal rank, Brier and calibration error in three columns."""
    rankings = 4 if is_model_installed() else 3
    out = io.StringIO()

    call_command("scorecard", "--input", write_lines(tmp_path, *REPORTS), stdout=out)

    text = out.getvalue()
    assert "engine" in text
    assert "prior alone" in text
    assert "words (BM25)" in text
    for row in ("a label first", "a label among 3", "a label among 5", "mean reciprocal rank"):
        assert text.split(row)[1].splitlines()[0].count("[") == rankings
    for row in ("Brier, all faults", "calibration error"):
        assert text.split(row)[1].splitlines()[0].count("[") == 2
    assert "the expert's numbers" in text


def test_card_reads_standard_input(monkeypatch: pytest.MonkeyPatch) -> None:
    """A dash stands for it."""
    content = "\n".join(map(json.dumps, REPORTS)).encode()
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(content)))

    assert run_card("--input", "-")["count"] == 3


def test_refused_lines_are_named_and_the_rest_is_scored(tmp_path: Path) -> None:
    """An unknown label and a line that is no JSON are said with their numbers; exit code 1."""
    wrong = REPORTS[0] | {"labels": ["shrinkage-wrap"]}
    name = write_lines(tmp_path, wrong, REPORTS[1], "not json", REPORTS[2] | {"material": "cheese"})
    out, err = io.StringIO(), io.StringIO()

    with pytest.raises(CommandError, match=r"^Refused in 3 places; the rest was scored\.$") as stop:
        call_command("scorecard", "--input", name, "--json", stdout=out, stderr=err)

    assert stop.value.returncode == 1
    said = err.getvalue().splitlines()
    assert said[0].startswith("line 1: unknown fault 'shrinkage-wrap'; the nearest valid name is")
    assert said[1].startswith("line 3: not JSON")
    assert said[2].startswith("line 4: unknown material 'cheese'")
    assert json.loads(out.getvalue())["count"] == 2


def test_file_without_a_usable_line_scores_nothing(tmp_path: Path) -> None:
    """Exit code 1, and no empty table."""
    with pytest.raises(CommandError, match="No report could be scored") as stop:
        call_command("scorecard", "--input", write_lines(tmp_path, "{"), stderr=io.StringIO())

    assert stop.value.returncode == 1


def test_file_that_is_not_there_is_a_usage_error(tmp_path: Path) -> None:
    """Exit code 2."""
    with pytest.raises(CommandError, match="cannot read") as stop:
        call_command("scorecard", "--input", str(tmp_path / "none.jsonl"))

    assert stop.value.returncode == 2


def test_own_cases_are_scored_as_first_sent(reviewer: User) -> None:
    """The words and facts of the report count; marks and facts set since do not."""
    case = make_case(
        story="Strings everywhere. It pops and hisses.",
        facts={"process": "MEX", "material": "PETG"},
        facts_as_sent={"process": "MEX", "material": "PETG", "tried": "dried the spool"},
    )
    diagnose_case(case.pk, cause="report received")
    mark_finding(case, "corners-lifted", "present", actor=reviewer)
    case.material = "ABS"
    case.save()
    set_verdict(case, ["filament-wet", "shrinkage-warp"], actor=reviewer)

    (given, labels), *others = list_judged_cases().cases

    assert others == []
    assert labels == ["filament-wet", "shrinkage-warp"]
    assert (given.text, given.process, given.material, given.tried) == (
        "Strings everywhere. It pops and hisses.",
        "MEX",
        "PETG",
        ("dried the spool",),
    )
    assert (given.marks, given.withdrawn) == ({}, frozenset())
    assert run_card()["count"] == 1


def test_own_cases_left_out_are_counted_with_the_reason(reviewer: User) -> None:
    """No verdict, erased, without words, and a fault that is known no more."""
    scored, erased, wordless, old = (make_case(story=f"It is wet, {n}.") for n in range(4))
    make_case(story="Nobody has judged this.")
    for case in (scored, erased, wordless, old):
        set_verdict(case, ["filament-wet"], actor=reviewer)
    erase_person(erased, by="the person")
    wordless.reports.update(story=" ")
    Verdict.objects.filter(case=old).update(fault="no-longer-known")

    found = list_judged_cases()

    assert len(found.cases) == 1
    assert found.left_out == {
        "words erased": 1,
        "no words in the first report": 1,
        "a fault of the verdict is no longer in the knowledge": 1,
        "no verdict yet": 1,
    }
    out = io.StringIO()
    call_command("scorecard", stdout=out)
    assert "Left out: 1, words erased" in out.getvalue()


def test_desk_without_a_verdict_has_an_empty_card() -> None:
    """That is nothing wrong: the command ends well and says why there is no figure."""
    make_case()
    out = io.StringIO()

    call_command("scorecard", stdout=out)

    assert "Scored: 0" in out.getvalue()
    assert "No case has a verdict that can be scored yet." in out.getvalue()
    assert run_card() == {"count": 0, "left_out": {"no verdict yet": 1}}


def _diagnose() -> dict[str, list[str]]:
    """Return the ranking of each report as the engine's command line gives it."""
    plain = [{k: v for k, v in report.items() if k != "labels"} for report in REPORTS]
    done = subprocess.run(
        [sys.executable, "-m", "triage", "diagnose", "--input", "-"],
        input="\n".join(map(json.dumps, plain)),
        capture_output=True,
        text=True,
        check=True,
    )
    answers = [json.loads(line) for line in done.stdout.splitlines()]
    return {answer["id"]: [fault["id"] for fault in answer["faults"]] for answer in answers}
