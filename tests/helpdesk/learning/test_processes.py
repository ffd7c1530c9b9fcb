"""A switch reaches processes and threads that are running, at their next run, without restart."""

import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.db import connection

from helpdesk.accounts.models import User
from helpdesk.diagnosis.engine import EngineInput, run_engine
from helpdesk.learning.services import make_revision, put_in_force
from tests.helpdesk.learning.cases import settled

ROOT = Path(__file__).parents[3]
PATIENCE_S = 60.0


@pytest.fixture
def environment(tmp_path: Path) -> dict[str, str]:
    """Return the environment of a desk in its own folder."""
    inherited = {k: v for k, v in os.environ.items() if not k.startswith("PRINTWARD_")}
    own = {
        "PRINTWARD_DATA": str(tmp_path),
        "DJANGO_SETTINGS_MODULE": "helpdesk.config.settings.dev",
    }
    return inherited | own


def start(environment: dict[str, str], command: str) -> "subprocess.Popen[str]":
    """Start a process of the desk."""
    return subprocess.Popen(  # noqa: S603 - our own module
        [sys.executable, "-m", "tests.helpdesk.learning.desk_process", command],
        cwd=ROOT,
        env=environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def finish(environment: dict[str, str], command: str) -> None:
    """Run a process of the desk to its end."""
    process = start(environment, command)
    _, errors = process.communicate(timeout=PATIENCE_S)
    assert process.returncode == 0, errors


@pytest.fixture
def worker(environment: dict[str, str]) -> Iterator["subprocess.Popen[str]"]:
    """Give a process that has been running since before any switch."""
    finish(environment, "prepare")
    process = start(environment, "watch")
    yield process
    process.kill()
    process.communicate()


def ask(worker: "subprocess.Popen[str]") -> list[str]:
    """Return revision and version of one run in the worker."""
    assert worker.stdin
    assert worker.stdout
    worker.stdin.write("\n")
    worker.stdin.flush()
    return worker.stdout.readline().split()


def test_switch_reaches_a_running_process(
    worker: "subprocess.Popen[str]", environment: dict[str, str]
) -> None:
    """Put in force, rolled back and put in force again by others, seen at each next run."""
    expert = ask(worker)
    finish(environment, "1")
    learned = ask(worker)
    finish(environment, "0")
    back = ask(worker)
    finish(environment, "1")

    assert expert[0] == "None"
    assert learned[0] == "1"
    assert learned[1] != expert[1]
    assert back == expert
    assert ask(worker) == learned


@pytest.mark.django_db(transaction=True)
def test_switch_reaches_a_running_thread(reviewer: User, desk_admin: User) -> None:
    """The numbers kept in a process are shared, and the question is asked in every thread."""
    settled(reviewer, 2)
    revision = make_revision(1)
    seen: list[int | None] = []

    def look() -> None:
        try:
            seen.append(run_engine(EngineInput(text="It curls.", story_length=9)).revision)
        finally:
            connection.close()

    def look_in_a_thread() -> None:
        thread = threading.Thread(target=look)
        thread.start()
        thread.join()

    look_in_a_thread()
    put_in_force(revision, actor=desk_admin, why="Try")
    look_in_a_thread()
    put_in_force(None, actor=desk_admin, why="Back")
    look_in_a_thread()

    assert seen == [None, 1, None]
