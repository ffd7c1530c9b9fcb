"""Diagnosing many lines on several cores, in order and with bounded memory."""

import multiprocessing
from collections import deque
from collections.abc import Iterable, Iterator
from itertools import islice
from multiprocessing.connection import Connection

from triage.diagnose import Diagnoser
from triage.errors import WorkerEndedError
from triage.lines import Answer, Line, answer_line

# Lines answered before other processes are started: a small input is done sooner without.
ALONE = 64
CHUNK = 32  # lines handed over at a time
ENDED = "a worker process ended early; the reports after this point are not diagnosed"


def answer_stream(diagnoser: Diagnoser, lines: Iterable[Line], *, workers: int) -> Iterator[Answer]:
    """Yield the answer to each line, in the order of the input.

    Parameters
    ----------
    diagnoser : Diagnoser
    lines : iterable of Line
        Read as needed: never more than two chunks for each worker are held.
    workers : int
        Processes to use; with 1 everything is done in this one.

    Yields
    ------
    Answer
    """
    left = iter(lines)
    alone = left if workers < 2 else islice(left, ALONE)
    for line in alone:
        yield answer_line(diagnoser, line)
    first = list(islice(left, CHUNK))
    if first:
        yield from _share_out(diagnoser, first, left, workers)


def _share_out(
    diagnoser: Diagnoser, first: list[Line], left: Iterator[Line], workers: int
) -> Iterator[Answer]:
    """Yield the answers of worker processes that take turns, chunk by chunk."""
    ours, processes = [], []
    for _ in range(workers):
        our_end, their_end = multiprocessing.Pipe()
        process = multiprocessing.Process(target=serve, args=(diagnoser, their_end), daemon=True)
        process.start()
        their_end.close()
        ours.append(our_end)
        processes.append(process)
    idle, busy = deque(ours), deque[Connection]()
    chunk = first
    try:
        while chunk or busy:
            if chunk and idle:
                worker = idle.popleft()
                _send(worker, chunk)
                busy.append(worker)
                chunk = list(islice(left, CHUNK))
                continue
            worker = busy.popleft()
            yield from _receive(worker)
            idle.append(worker)
    finally:
        # Closing our ends would not do: each worker also holds those of the ones before it.
        for process in processes:
            process.terminate()
            process.join()
        for our_end in ours:
            our_end.close()


def _send(worker: Connection, chunk: list[Line]) -> None:
    """Hand a chunk to a worker."""
    try:
        worker.send(chunk)
    except OSError as error:
        raise WorkerEndedError(ENDED) from error


def _receive(worker: Connection) -> list[Answer]:
    """Return the answers of a worker to the chunk it was given."""
    try:
        answers: list[Answer] = worker.recv()
    except (EOFError, OSError) as error:
        raise WorkerEndedError(ENDED) from error
    return answers


def serve(diagnoser: Diagnoser, connection: Connection) -> None:
    """Answer chunks of lines that come through a pipe, until it is closed."""
    while True:
        try:
            chunk: list[Line] = connection.recv()
        except EOFError:
            return
        connection.send([answer_line(diagnoser, line) for line in chunk])
