"""Make a desk with demo data and run it."""

from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from helpdesk.config import env
from helpdesk.demo.accounts import demo_password
from helpdesk.demo.data import read_people
from helpdesk.demo.services import load_demo
from helpdesk.demo.serving import HOST, is_port_free, make_folders, start_site, stop, wait_for_first


class Command(BaseCommand):
    """Prepare the demo and serve it with one worker; safe to run twice."""

    help = "Make the database, load the demo, start site and worker, print address and log-ins."

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the one option."""
        parser.add_argument("--no-serve", action="store_true", help="only prepare, do not serve")

    def handle(self, *args: Any, **options: Any) -> None:
        """Prepare, print, serve."""
        port = env.number("PRINTWARD_PORT", 8000)
        if not options["no_serve"] and not is_port_free(port):
            raise CommandError(f"Port {port} is in use. Set PRINTWARD_PORT to another one.")
        make_folders()
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
        running = start_site(port)
        try:
            wait_for_first(running)
        except KeyboardInterrupt:
            self.stdout.write("\nStopping.")
        finally:
            stop(running)
