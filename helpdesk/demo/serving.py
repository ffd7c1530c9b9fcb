"""Run the site, and a worker beside it, as processes of their own."""

import contextlib
import http.client
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import FrameType

from django.conf import settings

HOST = "127.0.0.1"
START_LIMIT_S = 30
STOP_LIMIT_S = 10
Processes = list[subprocess.Popen[bytes]]


class NotServingError(Exception):
    """The site did not come up."""


def make_folders() -> None:
    """Make the folders of the embedded shape that site and worker expect."""
    for folder in (settings.TASK_DIR / "queue", settings.TASK_DIR / "control"):
        folder.mkdir(parents=True, exist_ok=True)
    Path(settings.STATIC_ROOT).mkdir(parents=True, exist_ok=True)


def is_port_free(port: int) -> bool:
    """Return True when nothing listens on a port."""
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, port))
        except OSError:
            return False
    return True


def find_free_port() -> int:
    """Return a port that was free a moment ago."""
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        port: int = probe.getsockname()[1]
    return port


def start_site(port: int, environment: Mapping[str, str] | None = None) -> Processes:
    """Start the web server and one worker with its clock."""
    web = ["granian", "--interface", "wsgi", "--host", HOST, "--port", str(port)]
    web += ["--workers", "1", "--blocking-threads", "4", "--no-ws", "--log-level", "warning"]
    web += ["helpdesk.config.wsgi:application"]
    worker = ["celery", "--quiet", "-A", "helpdesk.config.celery:app", "worker", "--beat"]
    worker += ["--pool", "solo", "--loglevel", "WARNING", "--without-gossip", "--without-mingle"]
    return [
        subprocess.Popen(  # noqa: S603 - our own commands
            [sys.executable, "-m", *command],
            cwd=settings.BASE_DIR,
            env={**os.environ, **(environment or {})},
        )
        for command in (web, worker)
    ]


def wait_until_alive(port: int) -> None:
    """Return once the site answers; raises NotServingError when it does not in time."""
    give_up_at = time.monotonic() + START_LIMIT_S
    while time.monotonic() < give_up_at:
        connection = http.client.HTTPConnection(HOST, port, timeout=2)
        try:
            connection.request("GET", "/alive")
            if connection.getresponse().status == http.HTTPStatus.OK:
                return
        except OSError:
            time.sleep(0.1)
        finally:
            connection.close()
    raise NotServingError(f"Nothing answers on port {port} after {START_LIMIT_S} s.")


def wait_for_first(running: Processes) -> None:
    """Return when one of the processes ends by itself."""
    signal.signal(signal.SIGTERM, _raise_interrupt)
    while True:
        for process in running:
            try:
                process.wait(timeout=0.5)
            except subprocess.TimeoutExpired:
                continue
            return


def stop(running: Processes) -> None:
    """End the processes, first politely."""
    for process in running:
        if process.poll() is None:
            process.terminate()
    for process in running:
        try:
            process.wait(timeout=STOP_LIMIT_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


@contextlib.contextmanager
def serving(port: int, environment: Mapping[str, str] | None = None) -> Iterator[str]:
    """Let the site run while the block does; gives its address."""
    running = start_site(port, environment)
    try:
        wait_until_alive(port)
        yield f"http://{HOST}:{port}"
    finally:
        stop(running)


def _raise_interrupt(number: int, frame: FrameType | None) -> None:
    """Treat a request to end like Ctrl+C, so that the children are ended too."""
    raise KeyboardInterrupt
