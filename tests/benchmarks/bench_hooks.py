"""Measure how many signed messages a second the desk takes by hook, and how long refusals take.

    python tests/benchmarks/bench_hooks.py [--messages N] [--connections N] [--workers N]

Runs the site under granian with the production settings on SQLite, in a temporary folder, and
posts to it from this machine: the sender shares its processors. Prints rates, waiting times and,
for wrong signatures that begin more or less like the right one, the time of each refusal.
"""

import argparse
import http.client
import json
import os
import secrets
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
WARM_UP = 200
GUESSES = 600  # of each kind
TEXT = (
    "Third go at my rook in PLA at 210 C, 0.2 mm layers. The first 40 mm look lovely, then the top "
    "moved over by 3 mm, and I hear a loud knocking. I tightened the belts; nothing changed. "
)


@dataclass
class Sender:
    """One connection that posts its share and keeps how long each answer took."""

    port: int
    path: str
    key: bytes
    numbers: range
    seconds: list[float] = field(default_factory=list)
    statuses: set[int] = field(default_factory=set)

    def run(self) -> None:
        """Post every message once."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        for number in self.numbers:
            body = make_body(number)
            headers = sign_headers(self.key, f"bench_{number}", body)
            began = time.perf_counter()
            self.statuses.add(post(connection, self.path, headers, body))
            self.seconds.append(time.perf_counter() - began)
        connection.close()


def main() -> None:
    """Prepare a desk, measure, print."""
    parser = argparse.ArgumentParser(description="Measure the address for hooks.")
    parser.add_argument("--messages", type=int, default=6000)
    parser.add_argument("--connections", type=int, default=16)
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="printward-bench-") as folder:
        port = free_port()
        environment = make_environment(folder, port)
        public_id, secret = prepare(environment)
        server = start(environment, port, options.workers)
        try:
            measure(port, public_id, secret, options.messages, options.connections)
        finally:
            server.terminate()
            server.wait()


def make_environment(folder: str, port: int) -> dict[str, str]:
    """Return the environment of a desk in production, on SQLite."""
    return {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "helpdesk.config.settings.prod",
        "PRINTWARD_DATA": folder,
        "PRINTWARD_SECRET_KEY": secrets.token_hex(32),
        "PRINTWARD_HOSTS": "127.0.0.1",
        "PRINTWARD_ADDRESS": f"https://127.0.0.1:{port}",
        "PRINTWARD_LIMIT_HOOKS": "1000000",
        "PRINTWARD_HOOK_BACKLOG": "1000000",
    }


PREPARE = """
import django; django.setup()
from helpdesk.accounts.models import User
from helpdesk.hooks.services import make_source
source = make_source({"name": "Bench"}, actor=User.objects.create_user("bench"))
print(source.public_id, source.secret)
"""


def prepare(environment: dict[str, str]) -> tuple[str, str]:
    """Make the database and a source; return its public id and its secret."""
    manage = [sys.executable, "manage.py"]
    for command in (["migrate", "-v0"], ["collectstatic", "-v0", "--no-input"]):
        subprocess.run([*manage, *command], cwd=ROOT, env=environment, check=True)  # noqa: S603
    made = subprocess.run(  # noqa: S603
        [sys.executable, "-c", PREPARE],
        cwd=ROOT,
        env=environment,
        check=True,
        capture_output=True,
        text=True,
    )
    public_id, secret = made.stdout.split()
    return public_id, secret


def start(environment: dict[str, str], port: int, workers: int) -> "subprocess.Popen[bytes]":
    """Start the site and wait until it answers."""
    command = [
        str(Path(sys.executable).parent / "granian"),
        *("--interface", "wsgi", "--host", "127.0.0.1", "--port", str(port)),
        *("--workers", str(workers), "--blocking-threads", "8", "--no-access-log"),
        "helpdesk.config.wsgi:application",
    ]
    server = subprocess.Popen(  # noqa: S603
        command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    for _ in range(300):
        try:
            connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
            connection.request("GET", "/alive", headers={"X-Forwarded-Proto": "https"})
            if connection.getresponse().status == http.HTTPStatus.OK:
                return server
        except OSError:
            time.sleep(0.1)
    server.terminate()
    raise SystemExit("The site did not start.")


def measure(port: int, public_id: str, secret: str, messages: int, connections: int) -> None:
    """Measure and print everything."""
    path, key = f"/hooks/in/{public_id}", secret_bytes(secret)
    send_all(port, path, key, range(WARM_UP), connections)
    took, senders = send_all(port, path, key, range(WARM_UP, WARM_UP + messages), connections)
    say_rate("new messages", messages, took, senders)
    took, senders = send_all(port, path, key, range(WARM_UP, WARM_UP + messages), connections)
    say_rate("the same again", messages, took, senders)
    took, senders = send_all(port, path, bytes(32), range(messages), connections)
    say_rate("wrong signature", messages, took, senders)
    compare_refusals(port, path, key)


def send_all(
    port: int, path: str, key: bytes, numbers: range, connections: int
) -> tuple[float, list[Sender]]:
    """Post messages over several connections at once; return the seconds and the senders."""
    senders = [Sender(port, path, key, numbers[place::connections]) for place in range(connections)]
    threads = [threading.Thread(target=sender.run) for sender in senders]
    began = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return time.perf_counter() - began, senders


def say_rate(name: str, messages: int, took: float, senders: list[Sender]) -> None:
    """Print a rate with its waiting times and statuses."""
    waits = sorted(wait * 1000 for sender in senders for wait in sender.seconds)
    statuses = sorted(set().union(*(sender.statuses for sender in senders)))
    print(  # noqa: T201 - a command
        f"{name:<16} {messages / took:7.0f} a second, waits {statistics.median(waits):.1f} ms"
        f" median, {waits[int(len(waits) * 0.99)]:.1f} ms for 99 of 100, answers {statuses}"
    )


def compare_refusals(port: int, path: str, key: bytes) -> None:
    """Print how long refusals take by how much of the signature is right, in turn."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    took: dict[int, list[float]] = {0: [], 11: [], 22: [], 33: [], 42: []}
    for number in range(GUESSES):
        for right in took:
            body = make_body(number)
            headers = sign_headers(key, f"guess_{number}", body)
            digest = headers["webhook-signature"][3:]
            wrong = "".join("B" if char == "A" else "A" for char in digest[right:43])
            headers["webhook-signature"] = f"v1,{digest[:right]}{wrong}="
            began = time.perf_counter()
            status = post(connection, path, headers, body)
            took[right].append((time.perf_counter() - began) * 1e6)
            if status != http.HTTPStatus.UNAUTHORIZED:
                raise SystemExit(f"A wrong signature was answered {status}.")
    for right, times in took.items():
        low, middle, high = statistics.quantiles(times, n=4)
        print(  # noqa: T201 - a command
            f"{right:2} of 43 characters right: {middle:.0f} µs median ({low:.0f} to {high:.0f})"
        )


def make_body(number: int) -> bytes:
    """Return a report as a bot sends it."""
    data = {
        "conversation": f"thread-{number}",
        "text": TEXT * 3,
        "author": {"name": "Bettine Halvorsen", "handle": "bettine_h"},
        "link": f"https://chat.marrowlane.example/{number}",
    }
    return json.dumps({"type": "report.created", "data": data}).encode()


def sign_headers(key: bytes, message_id: str, body: bytes) -> dict[str, str]:
    """Return the headers of a signed message that came through the TLS proxy."""
    from helpdesk.hooks.signing import make_headers  # noqa: PLC0415 - the path is set first

    signed = make_headers([key], message_id=message_id, timestamp=int(time.time()), body=body)
    return {**signed, "Content-Type": "application/json", "X-Forwarded-Proto": "https"}


def secret_bytes(secret: str) -> bytes:
    """Return the bytes of a secret."""
    from helpdesk.hooks.signing import read_secret  # noqa: PLC0415 - the path is set first

    return read_secret(secret)


def post(
    connection: http.client.HTTPConnection, path: str, headers: dict[str, str], body: bytes
) -> int:
    """Post and return the status."""
    connection.request("POST", path, body, headers)
    response = connection.getresponse()
    response.read()
    return response.status


def free_port() -> int:
    """Return a port nobody listens on."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    main()
