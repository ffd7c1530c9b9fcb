"""The folder of messages: whole files only, and broken ones harm nobody."""

import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from queue import Empty

import pytest
from kombu import Connection

from helpdesk.core.folder_queue import Channel


@pytest.fixture
def open_channel(tmp_path: Path) -> Iterator[Callable[[], Channel]]:
    """Return a function that opens a channel to one folder."""
    for name in ("queue", "control"):
        (tmp_path / name).mkdir()
    connection = Connection(
        "filesystem://",
        transport="helpdesk.core.folder_queue:Transport",
        transport_options={
            "data_folder_in": str(tmp_path / "queue"),
            "data_folder_out": str(tmp_path / "queue"),
            "control_folder": str(tmp_path / "control"),
        },
    )

    def open_one() -> Channel:
        channel = connection.channel()
        assert isinstance(channel, Channel)
        return channel

    yield open_one
    connection.release()


def test_broken_message_is_passed_over(open_channel: Callable[[], Channel], tmp_path: Path) -> None:
    """An empty and a cut-off file are skipped, and the message after them arrives."""
    (tmp_path / "queue" / "0_a.jobs.msg").touch()
    (tmp_path / "queue" / "0_b.jobs.msg").write_text('{"body": "cut')
    channel = open_channel()
    channel._put("jobs", {"number": 7})

    assert channel._get("jobs") == {"number": 7}
    with pytest.raises(Empty):
        channel._get("jobs")


def test_message_being_written_is_not_there_yet(
    open_channel: Callable[[], Channel], tmp_path: Path
) -> None:
    """While thousands are put, a reader never meets half of one, and none is lost."""
    got: list[int] = []
    writer, reader = open_channel(), open_channel()

    def put_all() -> None:
        for number in range(2000):
            writer._put("jobs", {"number": number, "filling": "x" * 2000})

    thread = threading.Thread(target=put_all)
    thread.start()
    while thread.is_alive() or any((tmp_path / "queue").iterdir()):
        try:
            got.append(reader._get("jobs")["number"])
        except Empty:
            continue
    thread.join()

    assert sorted(got) == list(range(2000))


def test_broken_exchange_file_is_made_anew(
    open_channel: Callable[[], Channel], tmp_path: Path
) -> None:
    """A file left empty by a killed process does not keep the worker from starting."""
    channel = open_channel()
    (tmp_path / "control" / "desk.exchange").touch()

    channel._queue_bind("desk", "jobs", "", "jobs")

    assert [entry.queue for entry in channel.get_table("desk")] == ["jobs"]
