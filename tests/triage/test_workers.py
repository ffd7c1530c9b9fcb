"""Many lines over several processes: order, memory and failure."""

import json
import multiprocessing
import os
import signal
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.triage.folder import write_folder
from triage.diagnose import Diagnoser
from triage.errors import WorkerEndedError
from triage.knowledge import load_knowledge
from triage.lines import Line, answer_line
from triage.workers import ALONE, CHUNK, answer_stream, serve

COUNT = ALONE + 5 * CHUNK + 3


@pytest.fixture(scope="module")
def diagnoser(tmp_path_factory: pytest.TempPathFactory) -> Diagnoser:
    """Return a diagnoser with the small knowledge."""
    folder: Path = tmp_path_factory.mktemp("knowledge")
    return Diagnoser(load_knowledge(write_folder(folder)))


def make_lines(count: int) -> list[Line]:
    """Return reports of different texts; every tenth line is broken."""
    texts = ["strings", "corners curled", "popping", "soft details"]
    return [
        Line(
            at,
            b"{"
            if at % 10 == 0
            else json.dumps({"id": at, "text": texts[at % 4] * (at % 3)}).encode(),
        )
        for at in range(1, count + 1)
    ]


@pytest.mark.parametrize("workers", [1, 2, 3])
@pytest.mark.parametrize("count", [0, 1, ALONE, ALONE + 1, COUNT])
def test_answers_come_in_the_order_of_the_input(
    diagnoser: Diagnoser, workers: int, count: int
) -> None:
    """Any number of workers gives the answers one would."""
    lines = make_lines(count)

    answers = list(answer_stream(diagnoser, lines, workers=workers))

    assert answers == [answer_line(diagnoser, line) for line in lines]


def test_small_inputs_start_no_process(diagnoser: Diagnoser) -> None:
    """Up to the first few dozen lines everything is done alone."""
    before = set(multiprocessing.active_children())
    stream = answer_stream(diagnoser, make_lines(ALONE), workers=2)

    for _ in stream:
        assert set(multiprocessing.active_children()) == before


def test_input_is_read_only_as_needed(diagnoser: Diagnoser) -> None:
    """However long the input, only a few chunks are taken before answers come back."""
    taken = 0

    def endless() -> Iterator[Line]:
        nonlocal taken
        while True:
            taken += 1
            yield Line(taken, b'{"id": 1, "text": "strings"}')

    stream = answer_stream(diagnoser, endless(), workers=2)
    for _ in range(ALONE + 1):
        next(stream)

    assert ALONE < taken <= ALONE + 3 * CHUNK
    stream.close()  # type: ignore[attr-defined]
    assert not multiprocessing.active_children()


def test_a_worker_that_dies_is_said(diagnoser: Diagnoser) -> None:
    """A worker killed in mid-run ends the run with an error of ours, not a hang."""
    stream = answer_stream(diagnoser, make_lines(100 * COUNT), workers=2)
    for _ in range(ALONE + 1):
        next(stream)

    for child in multiprocessing.active_children():
        assert child.pid is not None
        os.kill(child.pid, signal.SIGKILL)

    with pytest.raises(WorkerEndedError, match="ended early"):
        list(stream)
    assert not multiprocessing.active_children()


def test_a_worker_that_died_idle_is_said(diagnoser: Diagnoser) -> None:
    """A worker that died after its answers were received is noticed when it is given more."""
    stream = answer_stream(diagnoser, make_lines(100 * COUNT), workers=2)
    for _ in range(ALONE + 1):  # the first worker's answers are being handed out
        next(stream)
    first = min(multiprocessing.active_children(), key=lambda child: child.pid or 0)

    first.kill()
    first.join()

    with pytest.raises(WorkerEndedError, match="ended early"):
        list(stream)
    assert not multiprocessing.active_children()


def test_worker_answers_chunks_until_its_pipe_is_closed(diagnoser: Diagnoser) -> None:
    """The loop a worker runs, here in a thread."""
    ours, theirs = multiprocessing.Pipe()
    worker = threading.Thread(target=serve, args=(diagnoser, theirs), daemon=True)
    worker.start()
    lines = make_lines(3)

    ours.send(lines)

    assert ours.poll(30.0), "the worker gave no answer"
    assert ours.recv() == [answer_line(diagnoser, line) for line in lines]
    ours.close()
    worker.join(timeout=10.0)
    assert not worker.is_alive()
    theirs.close()
