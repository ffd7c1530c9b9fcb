"""A real server on the loopback address that says what a test tells it to, with TLS or without."""

import ssl
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

Says = Callable[[BaseHTTPRequestHandler], object]


@contextmanager
def serving(says: Says, *, context: ssl.SSLContext | None = None) -> Iterator[int]:
    """Serve on a free port of 127.0.0.1 and give the port."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            says(self)

        do_POST = do_GET  # noqa: N815 - the library's name

        def log_message(self, *args: object) -> None:
            """Write nothing: the tests look at what was answered."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    server.handle_error = lambda *args: None  # type: ignore[method-assign]
    if context:
        server.socket = context.wrap_socket(
            server.socket, server_side=True, do_handshake_on_connect=False
        )
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    try:
        yield server.server_port
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def answer(
    handler: BaseHTTPRequestHandler,
    body: bytes = b"fine",
    *,
    status: int = 200,
    headers: dict[str, str] | None = None,
) -> None:
    """Send a whole answer."""
    handler.send_response(status)
    for name, value in (headers or {}).items():
        handler.send_header(name, value)
    handler.send_header("Content-Length", str(len(body)))
    handler.end_headers()
    handler.wfile.write(body)
