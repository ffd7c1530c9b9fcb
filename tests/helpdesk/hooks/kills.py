"""Kill a desk at random moments while it takes and sends messages, and count what came of it.

    python tests/helpdesk/hooks/kills.py [--kills N] [--seed N]

Runs in a folder of its own. A child process takes reports by hook, does the jobs and sends; it is
killed with SIGKILL after a random time, again and again, and at times by the receiver the moment it
has said yes. The sender repeats what was not answered yes, as the Standard Webhooks specification
asks, and the receiver knows a message by its webhook-id.

Prints one line of counts and ends with status 1 if anything was lost or had two effects.
"""

import argparse
import datetime
import json
import os
import random
import signal
import sys
import tempfile
import time
from http.server import BaseHTTPRequestHandler
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
AHEAD = 5  # reports that wait to be sent at the first life; each life brings one more
LONGEST_LIFE_S = 2.0
SHORTEST_LIFE_S = 0.01
KILLED_AFTER_YES = 0.2  # share of the deliveries
JUMP = datetime.timedelta(minutes=20)  # past the leases of a killed process


def main() -> int:
    """Prepare, kill, finish, count."""
    parser = argparse.ArgumentParser(description="Kill a desk at random moments.")
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="printward-kills-") as folder:
        os.environ["PRINTWARD_DATA"] = folder
        os.environ["DJANGO_SETTINGS_MODULE"] = "helpdesk.config.settings.dev"
        os.environ.pop("PRINTWARD_DATABASE", None)  # a database of its own, not the tests’
        os.environ["PRINTWARD_INSIDE_HOSTS"] = "127.0.0.1"
        sys.path.insert(0, str(ROOT))
        import django  # noqa: PLC0415 - the settings are in the environment only now

        django.setup()
        return run(options.kills, random.Random(options.seed))  # noqa: S311 - repeatable on purpose


def run(kills: int, chance: random.Random) -> int:
    """Do it all and return the status to end with."""
    from django.core.management import call_command  # noqa: PLC0415
    from django.test import Client  # noqa: PLC0415

    from tests.helpdesk.incoming.servers import answer, serving  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    Client(headers={"host": "127.0.0.1"}).get("/alive")  # loads what each child would load anew
    got: list[str] = []
    victim: list[int] = []

    def take(handler: BaseHTTPRequestHandler) -> None:
        handler.rfile.read(int(handler.headers["content-length"]))
        got.append(handler.headers["webhook-id"])
        time.sleep(chance.uniform(0, 0.02))
        answer(handler, b"", status=204)
        if victim and chance.random() < KILLED_AFTER_YES:
            os.kill(victim[0], signal.SIGKILL)

    with serving(take) as port:
        secret, public_id = prepare(port)
        said_yes: set[int] = set()
        killed = 0
        moment = datetime.datetime.now(datetime.UTC)
        reports = AHEAD
        while killed < kills:
            reports += 1
            moment += JUMP
            life_s = chance.uniform(SHORTEST_LIFE_S, LONGEST_LIFE_S)
            killed += live(secret, public_id, said_yes, moment, life_s, victim, reports)
        for _ in range(12):
            moment += JUMP
            live(secret, public_id, said_yes, moment, None, [], reports)
    return count(got, said_yes, killed, reports)


def prepare(port: int) -> tuple[str, str]:
    """Make a source with a bot that listens; return its secret and public id."""
    from helpdesk.accounts.models import User  # noqa: PLC0415
    from helpdesk.hooks.events import RECEIVED  # noqa: PLC0415
    from helpdesk.hooks.services import make_source, make_target  # noqa: PLC0415

    admin = User.objects.create_user("odalys")
    source = make_source({"name": "Chat bot"}, actor=admin)
    values = {"name": "Own bot", "url": f"http://127.0.0.1:{port}/", "source": source}
    make_target({**values, "kinds": [RECEIVED]}, actor=admin)
    return source.secret, source.public_id


def live(
    secret: str,
    public_id: str,
    said_yes: set[int],
    moment: datetime.datetime,
    life_s: float | None,
    victim: list[int],
    reports: int,
) -> int:
    """Let a child work until it is done or killed; return 1 if it was killed.

    `said_yes` gains what it answered yes to, and `victim` names it as long as it lives.
    """
    from django.db import connections  # noqa: PLC0415

    connections.close_all()  # a connection must not be carried into another process
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reader)
        work(secret, public_id, said_yes, moment, writer, reports)
        os._exit(0)
    os.close(writer)
    if life_s is not None:
        victim.append(child)
        time.sleep(life_s)
        os.kill(child, signal.SIGKILL)
        victim.clear()
    with os.fdopen(reader, "rb") as pipe:
        said_yes.update(int(line) for line in pipe.read().split(b"\n")[:-1])
    return int(os.WIFSIGNALED(os.waitpid(child, 0)[1]))


def work(
    secret: str,
    public_id: str,
    said_yes: set[int],
    moment: datetime.datetime,
    writer: int,
    reports: int,
) -> None:
    """Be the desk: take what the sender still has to send, do the jobs, tell each yes."""
    from django.test import Client  # noqa: PLC0415

    from helpdesk.core import clock, jobs  # noqa: PLC0415
    from helpdesk.hooks.signing import make_headers, read_secret  # noqa: PLC0415

    jobs._tell_worker = lambda job_id: None  # this process does the jobs itself
    client = Client(headers={"host": "127.0.0.1"})
    with clock.standing_at(moment):
        do_jobs()
        for number in range(reports):
            if number not in said_yes:
                data = {
                    "conversation": f"thread-{number}",
                    "text": f"Corners lift, report {number}.",
                }
                body = json.dumps({"type": "report.created", "data": data}).encode()
                headers = make_headers(
                    [read_secret(secret)],
                    message_id=f"msg_{number}",
                    timestamp=int(moment.timestamp()),
                    body=body,
                )
                response = client.post(
                    f"/hooks/in/{public_id}", body, content_type="application/json", headers=headers
                )
                if response.status_code == 202:
                    os.write(writer, b"%d\n" % number)
            if number % 4 == 0:
                do_jobs()
        do_jobs()


def do_jobs() -> None:
    """Do the jobs of hooks that are due; the engine's would take all the time there is."""
    from helpdesk.core import clock, jobs  # noqa: PLC0415
    from helpdesk.core.models import Job, JobState  # noqa: PLC0415

    kinds = ("take-hook-messages", "take-hook-message", "announce-event", "deliver-hook")
    due = Job.objects.filter(kind__in=kinds, run_after__lte=clock.now()).exclude(
        state__in=(JobState.DONE, JobState.FAILED)
    )
    for _ in range(3):  # what a message starts: taking it, announcing it, sending it
        for job_id in list(due.order_by("pk").values_list("pk", flat=True)):
            jobs.run_job(job_id)


def count(got: list[str], said_yes: set[int], killed: int, reports: int) -> int:
    """Print what came of it; return 1 if anything was lost or had two effects."""
    from helpdesk.cases.models import Case, Report  # noqa: PLC0415
    from helpdesk.hooks.models import HookDelivery, HookMessage  # noqa: PLC0415

    ids = set(HookDelivery.objects.values_list("webhook_id", flat=True))
    figures = {
        "killed": killed,
        "answered yes": len(said_yes),
        "messages kept": HookMessage.objects.count(),
        "messages taken": HookMessage.objects.filter(state="taken").count(),
        "cases": Case.objects.count(),
        "stories": Report.objects.values("story").distinct().count(),
        "deliveries": len(ids),
        "deliveries sent": HookDelivery.objects.filter(state="sent").count(),
        "cases told": HookDelivery.objects.values("case").distinct().count(),
        "ids received": len(set(got)),
    }
    print(json.dumps({**figures, "sent more than once": len(got) - len(set(got))}))  # noqa: T201
    is_right = set(got) == ids and all(
        n == reports for name, n in figures.items() if name != "killed"
    )
    return 0 if is_right else 1


if __name__ == "__main__":
    sys.exit(main())
