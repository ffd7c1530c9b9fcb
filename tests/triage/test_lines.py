"""JSON lines: what is refused, what is left out and said, and what is answered."""

import io
import json
from pathlib import Path

import pytest

from tests.triage.folder import write_folder
from tests.triage.networks import make_network
from triage.diagnose import Diagnoser
from triage.knowledge import load_knowledge
from triage.lines import LONGEST_LINE, Line, answer_line, read_labelled, split_lines


@pytest.fixture(scope="module")
def diagnoser(tmp_path_factory: pytest.TempPathFactory) -> Diagnoser:
    """Return a diagnoser with the small knowledge."""
    folder: Path = tmp_path_factory.mktemp("knowledge")
    return Diagnoser(load_knowledge(write_folder(folder)))


@pytest.mark.parametrize(
    ("content", "complaint"),
    [
        (b"{", "line 7: not JSON: Expecting property name enclosed in double quotes at column 2"),
        (b"[1]", "line 7: not a JSON object in curly brackets"),
        (b'{"id": "\xff"}', "line 7: not UTF-8 at byte 9"),
        (b'{"text": "x"}', "line 7: 'id' must be a text or a whole number"),
        (b'{"id": true, "text": "x"}', "line 7: 'id' must be a text or a whole number"),
        (b'{"id": 1.5, "text": "x"}', "line 7: 'id' must be a text or a whole number"),
        (b'{"id": "a"}', "line 7: 'text' must be a text"),
        (b'{"id": "a", "text": 3}', "line 7: 'text' must be a text"),
        (
            b"[" * 100_000,
            "line 7: not JSON this program can hold: a number or a nesting is too large",
        ),
        (
            b'{"id": ' + b"9" * 5000 + b"}",
            "line 7: not JSON this program can hold: a number or a nesting is too large",
        ),
        (None, f"line 7: longer than {LONGEST_LINE} bytes"),
    ],
)
def test_line_that_is_no_report_is_refused(
    diagnoser: Diagnoser, content: bytes | None, complaint: str
) -> None:
    """The complaint has the line's number and the reason; there is no output."""
    answer = answer_line(diagnoser, Line(7, content))

    assert answer.output is None
    assert answer.complaints == (complaint,)


@pytest.mark.parametrize(
    ("extra", "complaint"),
    [
        (
            {"findings": {"fine-string": True}},
            "unknown finding 'fine-string'; the nearest valid name is 'fine-strings'; left out",
        ),
        (
            {"findings": {"fine-strings": "yes"}},
            "finding 'fine-strings' must be true or false; left out",
        ),
        (
            {"findings": ["fine-strings"]},
            "'findings' must be an object of finding ids and true or false; left out",
        ),
        (
            {"tried": ["dry-filment"]},
            "unknown action 'dry-filment'; the nearest valid name is 'dry-filament'; left out",
        ),
        ({"tried": [3]}, "an entry of 'tried' must be a text; left out"),
        ({"tried": "dry-filament"}, "'tried' must be a list of action ids or texts; left out"),
        ({"process": "FFX"}, "unknown process 'FFX' left out; valid are MEX, VPP"),
        ({"process": 3}, "unknown process 3 left out; valid are MEX, VPP"),
        (
            {"material": "PLAA"},
            "unknown material 'PLAA'; the nearest valid name is 'PLA'; left out",
        ),
        ({"material": 3}, "'material' must be a text; left out"),
        ({"findngs": {}}, "unknown key 'findngs' left out; the nearest valid name is 'findings'"),
    ],
)
def test_part_that_cannot_be_used_is_left_out_and_said(
    diagnoser: Diagnoser, extra: dict[str, object], complaint: str
) -> None:
    """The rest of the report is diagnosed as if the part were not there."""
    plain = {"id": "a", "text": "corners curled up"}

    answer = answer_line(diagnoser, Line(3, json.dumps(plain | extra).encode()))

    assert answer.complaints == (f"line 3: {complaint}",)
    assert answer.output == answer_line(diagnoser, Line(3, json.dumps(plain).encode())).output


@pytest.mark.parametrize(
    "extra",
    [
        {"process": None, "material": None, "findings": None, "tried": None},
        {"process": "", "material": "", "findings": {}, "tried": []},
        {"findings": {"fine-strings": None}},
    ],
)
def test_empty_parts_are_no_mistake(diagnoser: Diagnoser, extra: dict[str, object]) -> None:
    """Null, an empty text and a finding not looked at say nothing."""
    plain = {"id": "a", "text": "corners curled up"}

    answer = answer_line(diagnoser, Line(1, json.dumps(plain | extra).encode()))

    assert answer == answer_line(diagnoser, Line(1, json.dumps(plain).encode()))
    assert answer.complaints == ()


def test_all_parts_are_used(diagnoser: Diagnoser) -> None:
    """Process, material, findings and tried remedies change the answer."""
    report = {
        "id": 17,
        "process": "MEX",
        "material": "pla",
        "findings": {"fine-strings": True, "corners-lifted": False},
        "tried": ["dry-filament"],
    }

    answer = answer_line(diagnoser, Line(1, json.dumps(report).encode()))

    assert answer.complaints == ()
    assert answer.output is not None
    found = json.loads(answer.output)
    assert found["id"] == 17
    assert [seen["state"] for seen in found["findings"]] == ["present", "absent"]
    assert "dry-filament" not in [step["id"] for step in found["plan"]]


def test_output_is_ascii_whatever_the_text(diagnoser: Diagnoser) -> None:
    """A lone half of a character pair in the input cannot break the output."""
    line = b'{"id": "\\ud800 \xc3\xa9", "text": "strings \\ud83d"}'

    answer = answer_line(diagnoser, Line(1, line))

    assert answer.output is not None
    assert answer.output.isascii()
    assert json.loads(answer.output)["id"] == "\ud800 \u00e9"


def test_lines_are_numbered_and_blank_ones_skipped() -> None:
    """Numbers are those an editor shows; a byte order mark is no content."""
    stream = io.BytesIO(b'\xef\xbb\xbf{"a": 1}\n\n  \r\n{"b": 2}')

    assert list(split_lines(stream)) == [Line(1, b'{"a": 1}\n'), Line(4, b'{"b": 2}')]


@pytest.mark.parametrize("ending", [b"\n", b""])
def test_overlong_line_is_passed_over_without_being_kept(ending: bytes) -> None:
    """Its place is kept for the complaint, and the lines behind it are read."""
    long = b"x" * (3 * LONGEST_LINE)

    lines = list(split_lines(io.BytesIO(b"one\n" + long + ending + (b"two" if ending else b""))))

    expected = [Line(1, b"one\n"), Line(2, None)]
    assert lines == ([*expected, Line(3, b"two")] if ending else expected)


def test_line_of_just_the_limit_is_kept() -> None:
    """The limit itself is allowed, and one byte more is not."""
    exact = b"x" * (LONGEST_LINE - 1) + b"\n"

    assert [line.content for line in split_lines(io.BytesIO(exact))] == [exact]
    assert [line.content for line in split_lines(io.BytesIO(b"x" + exact))] == [None]


def labelled_line(**values: object) -> Line:
    """Return line 4 with a labelled report."""
    report = {"id": "a", "text": "It is wet.", "labels": ["filament-wet"]} | values
    return Line(4, json.dumps(report).encode())


def test_labels_are_read_once_each_in_their_order(diagnoser: Diagnoser) -> None:
    """The first label stays the main one."""
    first, second = list(diagnoser.knowledge.faults)[:2]

    read = read_labelled(diagnoser, labelled_line(labels=[second, first, second]))

    assert read.labelled is not None
    assert read.labelled.labels == (second, first)
    assert read.labelled.report.text == "It is wet."
    assert read.complaints == ()


@pytest.mark.parametrize(
    ("labels", "complaint"),
    [
        (None, "line 4: 'labels' must be a list of fault ids, one or more"),
        ([], "line 4: 'labels' must be a list of fault ids, one or more"),
        ("filament-wet", "line 4: 'labels' must be a list of fault ids, one or more"),
        ([3], "line 4: label 3 must be a fault id"),
        (
            ["filament-wet", "filament-wett"],
            "line 4: unknown fault 'filament-wett'; the nearest valid name is 'filament-wet'",
        ),
    ],
)
def test_line_with_labels_not_known_is_refused(
    diagnoser: Diagnoser, labels: object, complaint: str
) -> None:
    """One label that is no fault refuses the whole line: half a truth would be scored wrongly."""
    read = read_labelled(diagnoser, labelled_line(labels=labels))

    assert read.labelled is None
    assert read.complaints == (complaint,)


def test_labelled_line_keeps_the_rest_of_a_report(diagnoser: Diagnoser) -> None:
    """An unknown material is left out and said; the report is still scored."""
    read = read_labelled(diagnoser, labelled_line(material="cheese", colour="red"))

    assert read.labelled is not None
    assert read.labelled.report.material is None
    assert len(read.complaints) == 2


def test_labels_are_no_part_of_a_plain_report(diagnoser: Diagnoser) -> None:
    """Diagnosing does not look at labels, and says so."""
    answer = answer_line(diagnoser, labelled_line())

    assert answer.output is not None
    assert answer.complaints == ("line 4: unknown key 'labels' left out",)


def test_impossible_evidence_refuses_its_line_only() -> None:
    """A finding nothing can cause is said with its line; the next line is diagnosed."""
    diagnoser = Diagnoser(make_network([0.0, 0.2], [0.0, 0.1], {(0, 0): 0.9, (1, 1): 0.8}))
    lines = [
        Line(at, json.dumps({"id": at, "process": "MEX", "findings": {name: True}}).encode())
        for at, name in ((1, "e0"), (2, "e1"))
    ]

    refused, answered = (answer_line(diagnoser, line) for line in lines)

    assert refused.output is None
    assert refused.complaints == (
        "line 1: the evidence has probability 0: nothing in the knowledge can cause it",
    )
    assert answered.output is not None
    assert answered.complaints == ()
