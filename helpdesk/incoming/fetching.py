"""Ask a server of the open network, where the address comes from somebody else.

Whoever sends an address may try to make the desk call a machine inside its own network. So only
https is spoken; the name is resolved once, every address it stands for must be a public one, and
the connection goes to that very address, so a name that changes its answer gains nothing. What a
server sends ends at a size, and at a time that also holds for one that sends a byte now and then.
Proxies in the environment are not used: behind one, the desk could not see where a call goes.

UnreachableError and RefusedAddressError are the two ways to fail: the first may pass by itself,
the second will not.
"""

import http.client
import ipaddress
import re
import socket
import ssl
import threading
import time
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from urllib.parse import SplitResult, urljoin, urlsplit

from django.conf import settings

from helpdesk.core.errors import DeskError, RefusedInputError

STEP_S = 10.0  # for the connection, and for each wait for more bytes
TOTAL_S = 30.0  # for one answer, redirects and all
MAX_BYTES = 15 * 1024 * 1024
MAX_REDIRECTS = 3
CHUNK = 1 << 16
LONGEST_ADDRESS = 2000  # characters
AGENT = "Printward"
_NOT_IN_ADDRESSES = re.compile(r"[\x00-\x20\x7f\\]")
# IPv4 addresses travel inside these IPv6 ones (RFC 6052, section 2.1).
_TRANSLATED = ipaddress.ip_network("64:ff9b::/96")
_TRANSLATED_LOCAL = ipaddress.ip_network("64:ff9b:1::/48")

Address = ipaddress.IPv4Address | ipaddress.IPv6Address


class UnreachableError(DeskError):
    """The other side did not answer, or not in time; another try may succeed."""


class RefusedAddressError(RefusedInputError):
    """The desk does not call this address, or does not take what it sends."""


@dataclass(frozen=True)
class Answer:
    """What a server said: the status, its headers by lower-case name, and the body's bytes."""

    status: int
    headers: Mapping[str, str] = field(default_factory=dict)
    body: bytes = b""
    address: str = ""


@dataclass(frozen=True)
class _Place:
    """Where a request goes: the host as its server knows it, and the addresses it stands for."""

    parts: SplitResult
    host: str
    port: int
    addresses: tuple[str, ...]

    @property
    def is_secure(self) -> bool:
        return self.parts.scheme == "https"

    @property
    def target(self) -> str:
        """Return path and query, as the request line has them."""
        path = self.parts.path or "/"
        return f"{path}?{self.parts.query}" if self.parts.query else path


def fetch(
    address: str,
    *,
    hosts: Collection[str] | None = None,
    max_bytes: int = MAX_BYTES,
    accept: str = "*/*",
    total_s: float = TOTAL_S,
    trust: ssl.SSLContext | None = None,
) -> Answer:
    """Return what is at an address (status 200 only); redirects are followed on the same host.

    `hosts` are the only ones that may be asked (None: any); ".example.org" stands for every host
    below example.org. `trust` replaces the authorities the system trusts.

    Raises RefusedAddressError when the address, its host, the status or the size is not taken,
    and UnreachableError when no answer came.
    """
    deadline = time.monotonic() + total_s
    first_host = ""
    for _ in range(MAX_REDIRECTS + 1):
        answer = send(
            address,
            headers={"Accept": accept},
            hosts=hosts,
            max_bytes=max_bytes,
            total_s=deadline - time.monotonic(),
            trust=trust,
        )
        host = _host_of(urlsplit(address))
        first_host = first_host or host
        if answer.status not in {301, 302, 303, 307, 308}:
            return _only_found(answer, host)
        address = urljoin(address, answer.headers.get("location", ""))
        if _host_of(urlsplit(address)) != first_host:
            raise RefusedAddressError(f"{first_host} sends the request on to another host.")
    raise RefusedAddressError(f"{first_host} sends the request on more than {MAX_REDIRECTS} times.")


def send(
    address: str,
    *,
    method: str = "GET",
    headers: Mapping[str, str] | None = None,
    body: bytes | None = None,
    hosts: Collection[str] | None = None,
    max_bytes: int = MAX_BYTES,
    total_s: float = TOTAL_S,
    trust: ssl.SSLContext | None = None,
) -> Answer:
    """Send one request and return the answer whatever its status; no redirect is followed.

    Raises like `fetch`, but takes every status.
    """
    deadline = time.monotonic() + total_s
    place = find_place(address, hosts=hosts)
    sent = {"User-Agent": AGENT, "Accept-Encoding": "identity", **(headers or {})}
    try:
        connection = _PinnedConnection(place, deadline=deadline, trust=trust)
        with _cut_at(deadline, connection):
            connection.request(method, place.target, body=body, headers=sent)
            return _read(connection.getresponse(), place, max_bytes, deadline)
    except (OSError, http.client.HTTPException) as error:  # ssl's and time-outs are OSErrors
        is_late = time.monotonic() >= deadline
        why = "not in time" if is_late else f"{type(error).__name__}: {error}"
        raise UnreachableError(f"{place.host} did not answer ({why}).") from error


def find_place(address: str, *, hosts: Collection[str] | None = None) -> _Place:
    """Return where a request to an address may go, with its name resolved.

    Raises RefusedAddressError when the desk does not call it, UnreachableError when the name
    stands for nothing.
    """
    parts, host, port = _split(address)
    if hosts is not None and not is_listed(host, hosts):
        raise RefusedAddressError(f"{host} is not one of the hosts that may be asked.")
    is_inside = is_listed(host, settings.INSIDE_HOSTS)
    if parts.scheme != "https" and not is_inside:
        raise RefusedAddressError("Only addresses that begin with https:// are called.")
    addresses = _resolve(host, port)
    if not is_inside and not all(is_public(found) for found in addresses):
        raise RefusedAddressError(f"{host} is not on the open network.")
    return _Place(parts=parts, host=host, port=port, addresses=addresses)


def is_listed(host: str, hosts: Collection[str]) -> bool:
    """Return whether a host is one of a list, or below an entry that begins with a dot."""
    return any(
        host == entry or (entry.startswith(".") and host.endswith(entry))
        for entry in (given.strip().lower() for given in hosts)
    )


def is_public(address: str) -> bool:
    """Return whether a numeric address is one anybody on the open network may reach.

    After the special-purpose registries of RFC 6890; an IPv6 address that carries an IPv4 one is
    judged by that.
    """
    found: Address = ipaddress.ip_address(address.partition("%")[0])
    if isinstance(found, ipaddress.IPv6Address):
        if found in _TRANSLATED:
            return is_public(str(ipaddress.IPv4Address(int(found) & 0xFFFF_FFFF)))
        if found in _TRANSLATED_LOCAL or found.teredo:
            return False
        carried = found.ipv4_mapped or found.sixtofour
        if carried:
            return is_public(str(carried))
    return found.is_global and not found.is_multicast and not found.is_reserved


def _split(address: str) -> tuple[SplitResult, str, int]:
    """Return an address's parts, host and port; raises RefusedAddressError."""
    if len(address) > LONGEST_ADDRESS or _NOT_IN_ADDRESSES.search(address):
        raise RefusedAddressError("This is not an address the desk can call.")
    try:
        parts = urlsplit(address)
        host, port = _host_of(parts), parts.port
    except ValueError:
        raise RefusedAddressError("This is not an address the desk can call.") from None
    if parts.scheme not in {"http", "https"} or not host or not parts.path.isascii():
        raise RefusedAddressError("Only addresses that begin with https:// are called.")
    if parts.username is not None or parts.password is not None:
        raise RefusedAddressError("An address with a user name in it is not called.")
    if not parts.query.isascii():
        raise RefusedAddressError("This is not an address the desk can call.")
    return parts, host, port or (443 if parts.scheme == "https" else 80)


def _host_of(parts: SplitResult) -> str:
    """Return the host of an address in lower-case ASCII, "" when it has none."""
    host = (parts.hostname or "").rstrip(".")
    try:
        return host if ":" in host else host.encode("idna").decode("ascii").lower()
    except UnicodeError:
        raise RefusedAddressError("This is not an address the desk can call.") from None


def _resolve(host: str, port: int) -> tuple[str, ...]:
    """Return the numeric addresses a name stands for, each once, in the system's order."""
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError) as error:
        raise UnreachableError(f"{host} was not found.") from error
    return tuple(dict.fromkeys(str(entry[4][0]) for entry in found))


class _PinnedConnection(http.client.HTTPConnection):
    """A connection to the addresses that were checked, never to the name; it can be cut."""

    def __init__(self, place: _Place, *, deadline: float, trust: ssl.SSLContext | None) -> None:
        super().__init__(place.host, place.port)
        self.default_port = 443 if place.is_secure else 80  # the Host header leaves it out
        self.place, self.deadline, self.trust = place, deadline, trust
        self.line: socket.socket | None = None

    def connect(self) -> None:
        """Connect, and agree on encryption with the server that has the name."""
        self.sock = self.line = _dial(self.place, self.deadline)
        if self.place.is_secure:
            context = self.trust or ssl.create_default_context()
            # The handshake comes once the timer knows the new socket, for it may take for ever too.
            self.sock = self.line = context.wrap_socket(
                self.line, server_hostname=self.place.host, do_handshake_on_connect=False
            )
            self.sock.do_handshake()

    def cut(self) -> None:
        """End the connection from outside of whoever waits on it."""
        if self.line is None:
            return
        try:
            # Not SSLSocket's own way, which would let the other thread go on without encryption.
            socket.socket.shutdown(self.line, socket.SHUT_RDWR)
        except OSError:
            return


@contextmanager
def _cut_at(deadline: float, connection: _PinnedConnection) -> Iterator[None]:
    """Cut a connection at the deadline.

    A time-out of a socket starts anew with each byte, so a server that sends them one by one would
    never meet it.
    """
    timer = threading.Timer(max(0.0, deadline - time.monotonic()), connection.cut)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
        connection.close()


def _dial(place: _Place, deadline: float) -> socket.socket:
    """Return a connection to the first address that takes one; raises OSError."""
    error: OSError = TimeoutError("no time left")
    for address in place.addresses:
        left = min(STEP_S, deadline - time.monotonic())
        if left <= 0:
            break
        try:
            return socket.create_connection((address, place.port), timeout=left)
        except OSError as caught:
            error = caught
    raise error


def _read(
    response: http.client.HTTPResponse, place: _Place, max_bytes: int, deadline: float
) -> Answer:
    """Read an answer to its end; raises RefusedAddressError when it is too large."""
    headers = {name.lower(): value for name, value in response.getheaders()}
    if headers.get("content-encoding", "identity").lower() != "identity":
        raise RefusedAddressError(f"{place.host} sent something packed, which was not asked for.")
    body = bytearray()
    while chunk := response.read(min(CHUNK, max_bytes + 1 - len(body))):
        body += chunk
        if len(body) > max_bytes:
            raise RefusedAddressError(f"{place.host} sent more than {max_bytes} bytes.")
    if response.length:  # a close before the promised end is not an error to http.client
        raise http.client.IncompleteRead(bytes(body), response.length)
    if time.monotonic() >= deadline:
        raise TimeoutError
    return Answer(
        status=response.status,
        headers=headers,
        body=bytes(body),
        address=place.parts.geturl(),
    )


def _only_found(answer: Answer, host: str) -> Answer:
    """Return a good answer; raises for the others, by whether another try may help."""
    if answer.status == http.client.OK:
        return answer
    if answer.status == http.client.TOO_MANY_REQUESTS or answer.status >= 500:
        raise UnreachableError(f"{host} answered with status {answer.status}.")
    raise RefusedAddressError(f"{host} answered with status {answer.status}.")
