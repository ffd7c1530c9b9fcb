"""The adapter to the engine: names, one run, and what is read in the words."""

import itertools
import json
from collections.abc import Callable
from typing import Any

import pytest

from helpdesk.diagnosis import engine
from helpdesk.diagnosis.engine import EngineInput, EngineResult, run_engine
from helpdesk.diagnosis.errors import UnknownThingError

pytestmark = pytest.mark.django_db

STORY = "The belt is not loose. I heard a knocking while it printed, then the top was shifted."


def run(text: str = STORY, **given: Any) -> EngineResult:
    """Run the engine on one story."""
    values: dict[str, Any] = {
        "text": text,
        "story_length": len(text),
        "process": "MEX",
        "material": "PLA",
    }
    return run_engine(EngineInput(**(values | given)))


def test_run_is_plain_json_and_complete() -> None:
    """A stored run survives JSON and names every suspect, finding and step."""
    data = run().data

    assert json.loads(json.dumps(data)) == data
    assert all(suspect["name"] and suspect["sign"] for suspect in data["suspects"])
    assert all(step["name"] and step["how"] for step in data["plan"])
    assert all(finding["name"] for finding in data["findings"])


def test_run_ranks_by_probability() -> None:
    """The strongest suspicion comes first and is the head of the result."""
    result = run()

    chances = [row[2] for row in result.data["ranking"]]
    assert chances == sorted(chances, reverse=True)
    assert result.top_fault == result.data["ranking"][0][0]


@pytest.mark.parametrize(
    "before",
    ["", "😀🛠️ ", "שלום, ההדפסה נכשלה. ", "مرحبا. ", "a\r\n\r\nb e\u0301. "],
)
def test_spans_cover_the_very_words(before: str) -> None:
    """Offsets count characters, whatever stands before: emoji, right-to-left, line ends."""
    text = before + STORY

    spans = run(text).data["spans"]

    words = {text[span["start"] : span["end"]] for span in spans}
    assert any("not loose" in found for found in words)
    assert any("knocking" in found for found in words)


def test_spans_do_not_overlap_and_are_numbered_in_order() -> None:
    """Marks can be laid one after the other."""
    spans = run(STORY + " There is a burning smell at the plug and I levelled the bed.").data[
        "spans"
    ]

    assert [span["number"] for span in spans] == list(range(1, len(spans) + 1))
    assert all(a["end"] <= b["start"] for a, b in itertools.pairwise(spans))


def test_spans_stay_within_the_first_story() -> None:
    """What is read in a reply is listed, but marks nothing in the story."""
    story = "Something went wrong."
    text = story + "\n\n" + STORY

    data = run(text, story_length=len(story)).data

    assert data["spans"] == []
    assert {item["is_in_story"] for item in data["readings"]} == {False}


def test_mark_outweighs_the_words() -> None:
    """A person's mark replaces what was read and says where it comes from."""
    given: dict[str, Any] = {
        "marks": {"belt-slack": True},
        "mark_sources": {"belt-slack": "reviewer"},
    }

    found = {f["id"]: f for f in run(**given).data["findings"]}["belt-slack"]

    assert (found["state"], found["source"], found["sureness"]) == ("present", "reviewer", None)


def test_withdrawn_reading_does_not_count() -> None:
    """A withdrawn finding is unknown, weighs nothing, and its words say so."""
    with_it, without = run(), run(withdrawn=frozenset({"knocks-heard"}))

    state = {f["id"]: f["state"] for f in without.data["findings"]}
    assert state["knocks-heard"] == "unknown"
    assert with_it.data["ranking"] != without.data["ranking"]
    labels = [item["label"] for item in without.data["readings"]]
    assert any("overruled since" in label for label in labels)


def test_danger_is_raised_by_words_and_cleared_by_denial() -> None:
    """A burning smell raises its danger; marking its finding absent takes it off."""
    text = STORY + " There is a burning smell from the plug."
    raised = run(text)
    denied = dict.fromkeys(raised.data["dangers"][0]["findings"], False)

    cleared = run(text, marks=denied)

    assert raised.danger_names
    assert cleared.danger_names == ()
    kinds = [span["kind"] for span in cleared.data["spans"]]
    assert "danger" in kinds, "the words stay marked, and say they were overruled"


def test_settled_question_is_not_asked_again() -> None:
    """What the person could not tell is left out, and another question takes its place."""
    first = run().data["questions"]
    gone = first[0]["finding"]

    second = run(settled=frozenset({gone})).data["questions"]

    assert gone not in {question["finding"] for question in second}
    assert len(second) == len(first)


def test_unknown_words_are_passed_over() -> None:
    """A material, a remedy or a mark the knowledge has not does not stop the run."""
    result = run(material="unobtainium", tried=("hoped for the best",), marks={"no-such": True})

    assert result.top_fault


def test_material_is_found_among_free_words() -> None:
    """A maker and a colour around the code do not hide it."""
    assert run(material="Fennmoor Matt, PLA teal").data == run(material="PLA").data


@pytest.mark.parametrize(
    ("look_up", "kind"),
    [
        (engine.fault_info, "fault"),
        (engine.finding_info, "finding"),
        (engine.action_info, "action"),
        (engine.caution_info, "caution"),
        (engine.danger_info, "danger"),
    ],
)
def test_unknown_id_is_refused_by_name(look_up: Callable[[str], object], kind: str) -> None:
    """Each look-up says what kind of thing is not known."""
    with pytest.raises(UnknownThingError, match=f"no {kind} called “no-such”"):
        look_up("no-such")


@pytest.mark.parametrize("process", ["MEX", "VPP"])
def test_lists_hold_only_what_fits_the_process(process: str) -> None:
    """A resin case is not offered what only extrusion shows, nor the other way round."""
    processes = {info.process for info in engine.list_faults(process)}
    processes |= {info.process for info in engine.list_findings(process)}
    assert processes <= {process, "any"}
    assert len(engine.list_faults(process)) < len(engine.list_faults())


def test_actions_carry_their_cautions() -> None:
    """An action that may hurt brings the words that go with it."""
    actions = engine.list_actions(("remedy", "check", "safety"))

    assert any(action.cautions for action in actions)
    assert all(caution.text for action in actions for caution in action.cautions)
    assert engine.risk_name("no-such-risk") == "no-such-risk"
    assert engine.knowledge_version()


def test_weak_absences_are_one_reason_that_names_the_strongest() -> None:
    """Findings that are not there and weigh little do not flood the list."""
    marks = {
        "thin-lines-come-and-go": True,
        "layers-missing": False,
        "part-spongy": False,
        "drive-grinds": False,
        "only-long-prints-fail": False,
    }

    suspects = run("The print failed.", marks=marks).data["suspects"]

    grouped = [
        reason
        for suspect in suspects
        for reason in suspect["reasons"]
        if reason["kind"] == "absences"
    ]
    assert grouped
    assert all(reason["label"].startswith("Not there: ") for reason in grouped)
    for suspect in suspects:
        weights = [abs(reason["decibans"]) for reason in suspect["reasons"]]
        assert weights == sorted(weights, reverse=True)


def test_a_remedy_that_did_nothing_may_be_what_the_order_rests_on() -> None:
    """Clearing the hot end should have helped; had it, the clog would lead."""
    result = run(
        "",
        tried=("take-apart-and-clear-hot-end",),
        marks={"hard-to-push-by-hand": True},
    )

    doubts = {entry["name"]: entry["answer"] for entry in result.data["doubts"]}
    remedy = engine.action_info("take-apart-and-clear-hot-end").name
    assert doubts[f"{remedy} changed nothing"] == "so"
