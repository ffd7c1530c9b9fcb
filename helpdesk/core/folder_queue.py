"""The embedded shape's message transport: Kombu's folder of files, with whole files only.

Kombu's own transport opens a message under its final name before it writes it, so a worker that
looks in between reads nothing and dies of it; a process killed there leaves such a file for good.
"""

import logging
import os
import time
import uuid
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from kombu.exceptions import ChannelError
from kombu.transport import filesystem
from kombu.transport.virtual import BrokerState
from kombu.utils.json import dumps

TRIES = 5
PAUSE_S = 0.02  # somebody else is writing the file of a few bytes just now
Result = TypeVar("Result")
logger = logging.getLogger(__name__)


class Channel(filesystem.Channel):
    """A channel whose messages appear whole or not at all, and that survives broken files."""

    def _put(  # type: ignore[override]  # as the annotations of Kombu say of its own
        self, queue: str, payload: dict[str, Any], **kwargs: Any
    ) -> None:
        """Write a message under another name and only then give it its own."""
        name = f"{round(time.monotonic() * 1000)}_{uuid.uuid4()}.{queue}.msg"
        folder = Path(self.data_folder_out)
        partial = folder / f"{name}.part"
        try:
            partial.write_text(dumps(payload), encoding="utf-8")
            os.replace(partial, folder / name)
        except OSError as error:
            raise ChannelError(f"Cannot add {name!r} to the folder") from error

    def _get(self, queue: str) -> dict[str, Any]:  # type: ignore[override]
        """Return the next message that can be read; a broken one is a lost hint, no more."""
        while True:
            try:
                return super()._get(queue)
            except ValueError:
                logger.warning("A message that could not be read was passed over")

    def _queue_bind(self, exchange: str, routing_key: str, pattern: str | None, queue: str) -> None:
        """Note that a queue listens to an exchange."""
        self._reading(
            exchange,
            lambda: super(Channel, self)._queue_bind(exchange, routing_key, pattern, queue),
        )

    def get_table(self, exchange: str) -> list[filesystem.exchange_queue_t]:  # type: ignore[override]
        """Return the queues that listen to an exchange."""
        return self._reading(exchange, lambda: super(Channel, self).get_table(exchange))

    def _reading(self, exchange: str, step: Callable[[], Result]) -> Result:
        """Do a step that reads an exchange's file; one that stays broken is made anew."""
        for _ in range(TRIES):
            try:
                return step()
            except ValueError:
                time.sleep(PAUSE_S)
        (self.control_folder / f"{exchange}.exchange").unlink(missing_ok=True)
        return step()


class Transport(filesystem.Transport):
    """Kombu's filesystem transport over the channel above."""

    Channel = Channel
    # Every connection of a process shares what is known of the exchanges.
    global_state = BrokerState()
