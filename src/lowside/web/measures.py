"""What a server did since its start, as counts in the OpenMetrics text format, and as log lines.

Nothing here names a person, a site or a session: addresses are counted by their kind.
"""

import json
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from threading import Lock

from starlette.types import ASGIApp, Message, Receive, Scope, Send

CONTENT_TYPE = "application/openmetrics-text; version=1.0.0; charset=utf-8"
BOUNDS_S = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)
"""Up to how long an answer took. Our choice: from a quick page to the limit of a connection."""
_KINDS = (
    ("/api/sync", "sync"),
    ("/static/", "static"),
    ("/office", "office"),
    ("/practice", "practice"),
    ("/s/", "session"),
    ("/pair", "pair"),
    ("/health", "watch"),
    ("/ready", "watch"),
    ("/metrics", "watch"),
)
_METHODS = ("GET", "HEAD", "POST")
"""An asker may name any; only these are counted apart."""
NOT_ANSWERED = 0
"""The status of a request that ended without an answer."""


def kind_of(path: str) -> str:
    """The kind of an address."""
    return next((kind for beginning, kind in _KINDS if path.startswith(beginning)), "other")


class Measures:
    """Counts of one server. Any thread may count."""

    def __init__(self, now: Callable[[], float] = time.time) -> None:
        self._guard = Lock()
        self._started = now()
        self._requests: Counter[tuple[str, str, int]] = Counter()
        self._within: Counter[tuple[str, float]] = Counter()
        self._seconds: defaultdict[str, float] = defaultdict(float)
        self._entries: Counter[str] = Counter()

    def request(self, method: str, path: str, status: int, seconds: float) -> None:
        """Count a request and how long its answer took."""
        kind = kind_of(path)
        named = method if method in _METHODS else "other"
        with self._guard:
            self._requests[kind, named, status] += 1
            self._seconds[kind] += seconds
            for bound in BOUNDS_S:
                if seconds <= bound:
                    self._within[kind, bound] += 1

    def entries(self, outcomes: Iterable[str]) -> None:
        """Count what became of the entries that a phone handed over."""
        with self._guard:
            self._entries.update(outcomes)

    def text(self, can_save: bool) -> str:
        """Everything counted, for a program that collects it."""
        with self._guard:
            lines = [
                "# TYPE lowside_requests counter",
                "# HELP lowside_requests Requests by kind of address, method and status.",
                *(
                    f'lowside_requests_total{{kind="{kind}",method="{method}",status="{status}"}} '
                    f"{count}"
                    for (kind, method, status), count in sorted(self._requests.items())
                ),
                "# TYPE lowside_request_seconds histogram",
                "# UNIT lowside_request_seconds seconds",
                "# HELP lowside_request_seconds How long answers took.",
                *self._histogram(),
                "# TYPE lowside_entries counter",
                "# HELP lowside_entries Entries handed over by phones, by what became of them.",
                *(
                    f'lowside_entries_total{{outcome="{outcome}"}} {count}'
                    for outcome, count in sorted(self._entries.items())
                ),
                "# TYPE lowside_ready gauge",
                "# HELP lowside_ready Whether the store can save.",
                f"lowside_ready {int(can_save)}",
                "# TYPE lowside_start_time_seconds gauge",
                "# UNIT lowside_start_time_seconds seconds",
                f"lowside_start_time_seconds {self._started:.3f}",
                "# EOF",
            ]
        return "\n".join(lines) + "\n"

    def _histogram(self) -> Iterable[str]:
        counts: Counter[str] = Counter()
        for (kind, _, _), count in self._requests.items():
            counts[kind] += count
        for kind, count in sorted(counts.items()):
            name = "lowside_request_seconds"
            for bound in BOUNDS_S:
                yield f'{name}_bucket{{kind="{kind}",le="{bound}"}} {self._within[kind, bound]}'
            yield f'{name}_bucket{{kind="{kind}",le="+Inf"}} {count}'
            yield f'{name}_sum{{kind="{kind}"}} {self._seconds[kind]:.6f}'
            yield f'{name}_count{{kind="{kind}"}} {count}'


class Measured:
    """The application, each of its requests counted and, if asked for, logged."""

    def __init__(self, app: ASGIApp, measures: Measures, log: Callable[[str], None] | None) -> None:
        self._app = app
        self._measures = measures
        self._log = log

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        began = time.perf_counter()
        status = NOT_ANSWERED

        async def noting(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        try:
            await self._app(scope, receive, noting)
        finally:
            seconds = time.perf_counter() - began
            self._measures.request(scope["method"], scope["path"], status, seconds)
            if self._log is not None:
                self._log(_line(scope["method"], scope["path"], status, seconds))


def _line(method: str, path: str, status: int, seconds: float) -> str:
    return json.dumps(
        {
            "at": datetime.now(UTC).isoformat(timespec="milliseconds"),
            "event": "request",
            "kind": kind_of(path),
            "method": method,
            "status": status,
            "ms": round(seconds * 1000.0, 1),
        }
    )


def log_line(text: str) -> None:
    """A line on standard error, whole even when several threads write."""
    sys.stderr.write(text + "\n")
    sys.stderr.flush()
