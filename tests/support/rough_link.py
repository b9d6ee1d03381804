"""The way between phones and server, with everything that goes wrong on such ways."""

import http.client
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

PASS = "pass"
REFUSE = "500 before"
"""The server says 500 and has done nothing."""
FAIL_AFTER = "500 after"
"""The server has done it, and says 500."""
LOSE = "lost"
"""The server has done it; the answer never arrives."""
HANG = "hang"
"""Accepts and never answers."""
SIGNED_OUT = "401"

LONGEST_HANG_S = 120.0


@dataclass
class RoughLink:
    """Passes on to `target_port`; `how` says what happens to sync, `asked` what was asked."""

    target_port: int
    how: str = PASS
    on_sync: Callable[[], None] | None = None
    """Called once a sync request was passed on, before its answer is awaited."""
    rewrite: dict[str, Callable[[bytes], bytes]] = field(default_factory=dict)
    """Changes the body of what is served at a path."""
    broken: set[str] = field(default_factory=set)
    """Paths that are answered with 500."""
    asked: list[str] = field(default_factory=list)
    hung: int = 0
    """How many questions were accepted and not answered."""
    _server: ThreadingHTTPServer | None = None

    @property
    def port(self) -> int:
        assert self._server is not None
        return int(self._server.server_address[1])

    @property
    def url(self) -> str:
        return f"http://localhost:{self.port}"

    def open(self, port: int = 0) -> None:
        """Listen; the same port again after `close`."""
        link = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_GET(self) -> None:
                link.carry(self)

            def do_POST(self) -> None:
                link.carry(self)

            def log_message(self, *_args: object) -> None:
                pass

        class Quiet(ThreadingHTTPServer):
            daemon_threads = True

            def handle_error(self, *_args: object) -> None:
                pass

        self._server = Quiet(("127.0.0.1", port), Handler)
        threading.Thread(target=self._server.serve_forever, args=(0.05,), daemon=True).start()

    def close(self) -> None:
        """Nobody listens any more."""
        if self._server is not None:
            self._server.shutdown()
            self._server.server_close()

    def carry(self, request: BaseHTTPRequestHandler) -> None:
        """One request: on to the server and back, or not."""
        body = request.rfile.read(int(request.headers.get("Content-Length") or 0))
        path = request.path.split("?", 1)[0]
        self.asked.append(f"{request.command} {path}")
        how = self.how if path == "/api/sync" else PASS
        if how == HANG:
            self.hung += 1
            time.sleep(LONGEST_HANG_S)
            return None
        if how == REFUSE or path in self.broken:
            return _reply(request, 500, {}, b"broken")
        if how == SIGNED_OUT:
            return _reply(request, 401, {}, b'{"error": "Sign in."}')
        try:
            status, headers, answer = self._forward(request, path, body)
        except (OSError, http.client.HTTPException):
            request.close_connection = True
            return None
        if how == LOSE:
            request.close_connection = True
            return None
        if how == FAIL_AFTER:
            return _reply(request, 500, {}, b"broken")
        return _reply(request, status, headers, answer)

    def _forward(
        self, request: BaseHTTPRequestHandler, path: str, body: bytes
    ) -> tuple[int, dict[str, str], bytes]:
        connection = http.client.HTTPConnection("127.0.0.1", self.target_port, timeout=30)
        headers = {k: v for k, v in request.headers.items() if k.lower() != "accept-encoding"}
        connection.request(request.command, request.path, body, headers)
        if path == "/api/sync" and self.on_sync is not None:
            self.on_sync()
        response = connection.getresponse()
        answer = response.read()
        connection.close()
        if path in self.rewrite:
            answer = self.rewrite[path](answer)
        kept = ("content-type", "location", "content-security-policy", "cache-control")
        return (
            response.status,
            {k: v for k, v in response.getheaders() if k.lower() in kept},
            answer,
        )


def _reply(
    request: BaseHTTPRequestHandler, status: int, headers: dict[str, str], body: bytes
) -> None:
    request.send_response(status)
    for name, value in headers.items():
        request.send_header(name, value)
    request.send_header("Content-Length", str(len(body)))
    request.end_headers()
    request.wfile.write(body)
