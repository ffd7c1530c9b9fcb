"""The command line, run as people run it."""

import contextlib
import io
import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.triage.folder import write_folder
from triage.__main__ import FINE, REFUSED, USAGE, main
from triage.knowledge import Story, load_knowledge
from triage.reading import TextClassifier
from triage.workers import ALONE, CHUNK

ROOT = Path(__file__).parents[2]


def run(*arguments: str, stdin: bytes = b"") -> subprocess.CompletedProcess[bytes]:
    """Run ``python -m triage`` with arguments and an input."""
    return subprocess.run(  # noqa: S603  our own command
        [sys.executable, "-m", "triage", *arguments],
        cwd=ROOT,
        input=stdin,
        capture_output=True,
        timeout=60,
        check=False,
    )


def start(knowledge: str, *options: str) -> subprocess.Popen[bytes]:
    """Start to diagnose what will be written to the process."""
    command = [sys.executable, "-m", "triage", "diagnose", "--input", "-"]
    pipe = subprocess.PIPE
    return subprocess.Popen(  # noqa: S603  our own command
        [*command, "--knowledge", knowledge, *options],
        cwd=ROOT,
        stdin=pipe,
        stdout=pipe,
        stderr=pipe,
    )


@pytest.fixture
def knowledge(tmp_path: Path) -> str:
    """Return the small knowledge folder."""
    return str(write_folder(tmp_path / "knowledge"))


def test_reports_from_stdin_are_answered_in_order(knowledge: str) -> None:
    """One line out for each line in, also when workers share them."""
    count = 3 * ALONE
    lines = [json.dumps({"id": f"r{at}", "text": "strings"}) for at in range(count)]

    done = run(
        "diagnose", "--input", "-", "--knowledge", knowledge, "--workers", "2",
        stdin="\n".join(lines).encode(),
    )  # fmt: skip

    assert (done.returncode, done.stderr) == (FINE, b"")
    assert [json.loads(line)["id"] for line in done.stdout.splitlines()] == [
        f"r{at}" for at in range(count)
    ]


def test_the_knowledge_of_the_engine_is_used_by_default(tmp_path: Path) -> None:
    """A report read from a file is diagnosed with all 72 faults and more."""
    file = tmp_path / "reports.jsonl"
    file.write_text('{"id": "a", "text": "The corners lift off the bed."}\n', encoding="utf-8")

    done = run("diagnose", "--input", str(file))

    assert (done.returncode, done.stderr) == (FINE, b"")
    faults = json.loads(done.stdout)["faults"]
    assert len(faults) >= 72
    assert faults[0]["probability"] > 0.05


def test_a_bad_line_is_said_and_the_rest_done(knowledge: str) -> None:
    """Exit code 1, the line's number and the nearest id on stderr, the good lines answered."""
    stdin = (
        b'{"id": "a", "text": "strings"}\n'
        b"not json\n"
        b'{"id": "b", "text": "strings", "findings": {"corner-lifted": true}}\n'
        b'{"id": "c", "text": "\xff"}\n'
    )

    done = run("diagnose", "--input", "-", "--knowledge", knowledge, stdin=stdin)

    assert done.returncode == REFUSED
    assert [json.loads(line)["id"] for line in done.stdout.splitlines()] == ["a", "b"]
    assert done.stderr.decode().splitlines() == [
        "line 2: not JSON: Expecting value at column 1",
        "line 3: unknown finding 'corner-lifted'; the nearest valid name is 'corners-lifted'; "
        "left out",
        "line 4: not UTF-8 at byte 22",
    ]


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["diagnose"],
        ["diagnose", "--input"],
        ["diagnose", "--input", "-", "--workers", "0"],
        ["diagnose", "--input", "-", "--workers", "two"],
        ["diagnose", "--output", "x"],
        ["guess"],
    ],
)
def test_usage_errors_exit_with_2(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """What the command line does not understand it says, and does nothing."""
    with pytest.raises(SystemExit) as ended:
        main(arguments)

    assert ended.value.code == USAGE
    assert "usage: python -m triage" in capsys.readouterr().err


def test_a_file_that_cannot_be_read_is_a_usage_error(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A missing file and a folder are named."""
    for path in (tmp_path / "none.jsonl", tmp_path):
        assert main(["diagnose", "--input", str(path)]) == USAGE
        assert capsys.readouterr().err.startswith(f"cannot read '{path}': ")


def test_broken_knowledge_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Both commands list what is wrong in the files and do nothing else."""
    folder = write_folder(tmp_path, swaps={"prior = 0.08": "prior = 8"})
    reports = tmp_path / "reports.jsonl"
    reports.write_text('{"id": "a", "text": "x"}\n', encoding="utf-8")

    for command in (["diagnose", "--input", str(reports)], ["check"]):
        assert main([*command, "--knowledge", str(folder)]) == REFUSED
        printed = capsys.readouterr()
        assert printed.out == ""
        assert "faults/thermal.toml: fault filament-wet: prior: 8 must lie" in printed.err


def test_check_finds_the_knowledge_of_the_engine_sound(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Knowledge without problems gives one line and exit code 0."""
    assert main(["check"]) == FINE
    printed = capsys.readouterr()
    assert printed.out.endswith("; 0 problems\n")
    assert printed.err == ""


def test_check_finds_a_small_knowledge_too_thin(
    knowledge: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Counts come last; that one finding does not make a fault out is a problem."""
    assert main(["check", "--knowledge", knowledge]) == REFUSED
    printed = capsys.readouterr()
    assert ": 4 faults, 5 findings, 5 links, 6 actions; " in printed.out
    assert (
        "faults/thermal.toml: fault shrinkage-warp: 1 findings have a link of 0.2 or more; "
        "it takes 4 to find the fault" in printed.err
    )


def test_check_lists_gaps(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A fault without a remedy is a problem, exit code 1."""
    folder = write_folder(
        tmp_path, swaps={"cures = { filament-wet = 0.85 }": "cures = { shrinkage-warp = 0.1 }"}
    )

    assert main(["check", "--knowledge", str(folder)]) == REFUSED
    printed = capsys.readouterr()
    assert "faults/thermal.toml: fault filament-wet: no remedy cures this fault\n" in printed.err


def test_check_names_a_phrase_that_cannot_be_parsed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A pattern outside the mini-language is found by the check, not by the first report."""
    folder = write_folder(tmp_path, swaps={'present = ["popping"]': 'present = ["pop// *"]'})

    assert main(["check", "--knowledge", str(folder)]) == REFUSED
    assert "popping-sounds" in capsys.readouterr().err


def test_a_reader_that_stops_early_is_no_crash(knowledge: str) -> None:
    """Piping into a program that closes its end gives no traceback."""
    lines = b"".join(b'{"id": %d, "text": "strings"}\n' % at for at in range(4 * ALONE))
    process = start(knowledge)
    assert process.stdin is not None
    assert process.stdout is not None
    assert process.stderr is not None
    with process:
        process.stdin.write(lines[:30])
        process.stdin.flush()
        process.stdout.readline()
        process.stdout.close()
        try:
            process.stdin.write(lines[30:])
            process.stdin.close()
        except BrokenPipeError:
            pass
        errors = process.stderr.read()

    assert errors == b""
    assert process.returncode == REFUSED


def test_answers_stream_while_input_is_open(knowledge: str) -> None:
    """The first answer comes before the second report is written."""
    process = start(knowledge)
    assert process.stdin is not None
    assert process.stdout is not None
    with process:
        for name in ("first", "second"):
            process.stdin.write(b'{"id": "%s", "text": "strings"}\n' % name.encode())
            process.stdin.flush()
            assert json.loads(process.stdout.readline())["id"] == name
        process.stdin.close()

    assert process.returncode == FINE


def test_main_in_this_process_reads_stdin(
    knowledge: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The same through the function, for those who call it."""
    stdin = io.TextIOWrapper(io.BytesIO(b'{"id": "a", "text": "strings"}\n{\n'))
    monkeypatch.setattr(sys, "stdin", stdin)

    code = main(["diagnose", "--input", "-", "--knowledge", knowledge, "--workers", "1"])

    printed = capsys.readouterr()
    assert code == REFUSED
    assert json.loads(printed.out)["id"] == "a"
    assert printed.err.startswith("line 2: not JSON")


def test_workers_that_die_end_the_run_with_a_message(knowledge: str) -> None:
    """When the system kills the workers the command says so and exits with 1."""
    process = start(knowledge, "--workers", "2")
    assert process.stdin is not None
    assert process.stdout is not None
    assert process.stderr is not None
    line = b'{"id": "a", "text": "strings"}\n'
    with process:
        process.stdin.write(line * (ALONE + 3 * CHUNK))
        process.stdin.flush()
        for _ in range(ALONE + CHUNK):
            process.stdout.readline()
        children = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()
        for child in children:
            os.kill(int(child), signal.SIGKILL)
        with contextlib.suppress(BrokenPipeError):
            process.stdin.write(line * 100 * CHUNK)
            process.stdin.close()
        process.stdout.read()
        errors = process.stderr.read()

    assert len(children) == 2
    assert errors.startswith(b"a worker process ended early")
    assert process.returncode == REFUSED


def test_workers_are_counted_where_affinity_is_unknown(
    knowledge: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """On systems without processor affinity all cores are used."""
    monkeypatch.delattr(os, "sched_getaffinity", raising=False)
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b'{"id": "a", "text": "x"}\n')))

    assert main(["diagnose", "--input", "-", "--knowledge", knowledge]) == FINE
    assert json.loads(capsys.readouterr().out)["id"] == "a"


def test_trained_classifier_is_kept_for_the_next_start(
    knowledge: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Trained once; the second start reads the file and ranks the same, as does a spoilt file."""
    report = tmp_path / "reports.jsonl"
    report.write_text('{"id": 1, "text": "thin hairs between the towers, it pops and hisses"}\n')
    monkeypatch.setenv("HOME", str(tmp_path))
    _write_stories(Path(knowledge))
    command = ["diagnose", "--input", str(report), "--workers", "1", "--knowledge", knowledge]

    assert main(command) == FINE
    first = capsys.readouterr().out
    (kept,) = (tmp_path / ".cache" / "printward").iterdir()
    made = kept.stat().st_mtime_ns
    assert main(command) == FINE
    second = capsys.readouterr().out
    assert kept.stat().st_mtime_ns == made
    kept.write_bytes(b"cut short")
    assert main(command) == FINE

    assert first == second == capsys.readouterr().out


def test_thorough_prices_answers_and_searches_the_plan(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The belief is the same; questions and plan are worked out in full."""
    report = tmp_path / "reports.jsonl"
    report.write_text('{"id": 1, "text": "lines get thinner and the extruder clicks"}\n')
    command = ["diagnose", "--input", str(report), "--workers", "1"]

    assert main(command) == FINE
    quick = json.loads(capsys.readouterr().out)
    assert main([*command, "--thorough"]) == FINE
    thorough = json.loads(capsys.readouterr().out)

    assert quick["faults"] == thorough["faults"]
    assert all(question["saves_minutes"] == 0 for question in quick["ask"])
    assert any(question["saves_minutes"] > 0 for question in thorough["ask"])


def test_reading_by_meaning_is_refused_without_the_extra(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    report = tmp_path / "reports.jsonl"
    report.write_text('{"id": 1, "text": "sugar floss"}\n')
    monkeypatch.setattr("triage.__main__.load_sentence_model", lambda: None)

    assert main(["diagnose", "--input", str(report), "--meaning"]) == REFUSED
    assert "needs the extra 'meaning'" in capsys.readouterr().err


def test_classifier_of_a_file_is_used_and_a_spoilt_one_refused(
    tmp_path: Path, knowledge: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """The file named goes before the stories; one that does not fit is not passed over."""
    entries = load_knowledge(Path(knowledge))
    stories = [Story(f"Sugar floss {at}.", ("filament-wet",)) for at in range(4)]
    stories += [Story(f"Edge curls {at}.", ("shrinkage-warp",)) for at in range(4)]
    file = tmp_path / "reader.npz"
    TextClassifier.train(stories, entries).save(file)
    report = tmp_path / "reports.jsonl"
    report.write_text('{"id": 1, "text": "sugar floss"}\n')
    command = ["diagnose", "--input", str(report), "--knowledge", knowledge]

    assert main(command) == FINE
    plain = json.loads(capsys.readouterr().out)
    assert main([*command, "--classifier", str(file)]) == FINE
    weighed = json.loads(capsys.readouterr().out)
    file.write_bytes(b"spoilt")
    assert main([*command, "--classifier", str(file)]) == REFUSED

    before, after = (
        {fault["id"]: fault["probability"] for fault in found["faults"]}["filament-wet"]
        for found in (plain, weighed)
    )
    assert after > before
    assert "'reader.npz' cannot be read as a classifier" in capsys.readouterr().err


def test_check_counts_stories_and_names_faults_with_few(
    knowledge: str, capsys: pytest.CaptureFixture[str]
) -> None:
    _write_stories(Path(knowledge))

    assert main(["check", "--knowledge", knowledge]) == REFUSED

    printed = capsys.readouterr()
    assert "12 stories" in printed.out
    assert "fault shrinkage-warp: 0 stories told at length; 12 or more are needed" in printed.err
    assert "fault filament-wet: 12 stories" not in printed.err


def _write_stories(knowledge: Path) -> None:
    """Add a dozen stories of one fault, told at length."""
    folder = knowledge / "stories"
    folder.mkdir()
    at_length = "Fine hairs hung there and it went on like that until the end. " * 6
    stories = "\n\n".join(f"Story {at}. {at_length}" for at in range(12))
    (folder / "filament-wet.txt").write_text(stories)
