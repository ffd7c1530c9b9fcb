"""Real workers on a real database file: races, and a worker killed in the middle of a job."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
PATIENCE_S = 20.0

Start = Callable[[str], "subprocess.Popen[str]"]


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Start]:
    """Return a function that starts a process of a desk in its own folder."""
    begun: list[subprocess.Popen[str]] = []
    inherited = {k: v for k, v in os.environ.items() if not k.startswith("PRINTWARD_")}
    environment = inherited | {
        "PRINTWARD_DATA": str(tmp_path),
        "DJANGO_SETTINGS_MODULE": "helpdesk.config.settings.dev",
    }

    def start_process(command: str) -> "subprocess.Popen[str]":
        process = subprocess.Popen(  # noqa: S603 - our own module
            [sys.executable, "-m", "tests.helpdesk.core.worker_process", command],
            cwd=ROOT,
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )
        begun.append(process)
        return process

    yield start_process
    for process in begun:
        _kill(process)


def _kill(process: "subprocess.Popen[str]") -> None:
    """End a process and its children the hard way."""
    if process.poll() is None:
        os.killpg(process.pid, signal.SIGKILL)
    process.communicate()


def _finish(process: "subprocess.Popen[str]") -> str:
    """Return what a process printed once it has ended well."""
    out, err = process.communicate(timeout=PATIENCE_S)
    assert process.returncode == 0, err
    return out


def _wait_for(path: Path) -> str:
    """Return a file's text as soon as there is any."""
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        if path.exists() and (text := path.read_text()):
            return text
        time.sleep(0.05)
    raise AssertionError(f"{path.name} was not written within {PATIENCE_S} s")


def test_job_is_done_by_another_worker_after_the_first_is_killed(
    start: Start, tmp_path: Path
) -> None:
    """A kill in the middle of a job loses nothing: the sweep hands it to the next worker."""
    _finish(start("prepare"))
    first = start("work")
    assert _wait_for(tmp_path / "begun") == str(first.pid)

    _kill(first)
    start("work")
    effects = _wait_for(tmp_path / "effects")
    state = _finish(start("state"))

    assert effects == "done\n"
    assert state in ("done 2\n", "running 2\n")  # the row says done a moment after the effect


def test_ten_workers_racing_for_a_job_have_one_effect(start: Start, tmp_path: Path) -> None:
    """However many get the hint at once, the row lets one of them through."""
    _finish(start("race"))

    assert (tmp_path / "effects").read_text().splitlines() == ["raced", "won"]
