"""Make a desk with demo data and run it."""

import os
import signal
import socket
import subprocess
import sys
from pathlib import Path
from types import FrameType
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from helpdesk.config import env
from helpdesk.demo.accounts import demo_password
from helpdesk.demo.data import read_people
from helpdesk.demo.services import load_demo

HOST = "127.0.0.1"


class Command(BaseCommand):
    """Prepare the demo and serve it with one worker; safe to run twice."""

    help = "Make the database, load the demo, start site and worker, print address and log-ins."

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the one option."""
        parser.add_argument("--no-serve", action="store_true", help="only prepare, do not serve")

    def handle(self, *args: Any, **options: Any) -> None:
        """Prepare, print, serve."""
        port = env.number("PRINTWARD_PORT", 8000)
        if not options["no_serve"]:
            _refuse_taken_port(port)
        Path(settings.DATA_DIR).mkdir(parents=True, exist_ok=True)
        for folder in ("queue", "control"):
            (Path(settings.TASK_DIR) / folder).mkdir(parents=True, exist_ok=True)
        call_command("migrate", verbosity=0, interactive=False)
        self.stdout.write("Loading the demo; rendering its photos takes a minute the first time.")
        load_demo(self.stdout.write)
        self._print_log_ins(port)
        if not options["no_serve"]:
            self._serve(port)

    def _print_log_ins(self, port: int) -> None:
        """Say where the desk is and who can log in."""
        self.stdout.write(f"\nThe desk: http://{HOST}:{port}/queue")
        self.stdout.write(f"Report a print, no account: http://{HOST}:{port}/report")
        self.stdout.write(f"Everything lies in {settings.DATA_DIR}\n\nDemo log-ins:")
        for person in read_people():
            name = f"{person.first_name} {person.last_name}"
            self.stdout.write(
                f"  {person.role:<9} {person.username:<8} {demo_password()}  ({name})"
            )
        self.stdout.write("")

    def _serve(self, port: int) -> None:
        """Run web server and worker until one ends or the person stops them."""
        self.stdout.write("Serving; press Ctrl+C to stop.")
        self.stdout.flush()
        web = [sys.executable, "-m", "granian", "--interface", "wsgi", "--host", HOST]
        web += ["--port", str(port), "--workers", "1", "--blocking-threads", "4"]
        web += ["--no-ws", "--log-level", "warning", "helpdesk.config.wsgi:application"]
        worker = [sys.executable, "-m", "celery", "-A", "helpdesk.config.celery:app", "worker"]
        worker += ["--beat", "--pool", "solo", "--loglevel", "WARNING", "--without-gossip"]
        worker += ["--without-mingle"]
        running = [
            subprocess.Popen(command, cwd=settings.BASE_DIR, env=os.environ.copy())  # noqa: S603 - our own commands
            for command in (web, worker)
        ]
        signal.signal(signal.SIGTERM, _raise_interrupt)
        try:
            _wait_for_first(running)
        except KeyboardInterrupt:
            self.stdout.write("\nStopping.")
        finally:
            _stop(running)


def _refuse_taken_port(port: int) -> None:
    """Stop with a sentence when something else listens on the port."""
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, port))
        except OSError as error:
            raise CommandError(
                f"Port {port} is in use. Set PRINTWARD_PORT to another one."
            ) from error


def _raise_interrupt(number: int, frame: FrameType | None) -> None:
    """Treat a request to end like Ctrl+C, so that the children are ended too."""
    raise KeyboardInterrupt


def _wait_for_first(running: list[subprocess.Popen[bytes]]) -> None:
    """Wait until one of the processes ends by itself."""
    while True:
        for process in running:
            try:
                process.wait(timeout=0.5)
            except subprocess.TimeoutExpired:
                continue
            return


def _stop(running: list[subprocess.Popen[bytes]]) -> None:
    """End the processes, first politely."""
    for process in running:
        if process.poll() is None:
            process.terminate()
    for process in running:
        try:
            process.wait(timeout=10)
        except subprocess.TimeoutExpired:
            process.kill()
