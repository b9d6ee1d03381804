"""Sees to it that a server uses what the shop's other servers kept since."""

import time
from collections.abc import Callable

from starlette.concurrency import run_in_threadpool
from starlette.types import ASGIApp, Receive, Scope, Send

from lowside.store import StoreError

EVERY_S = 2.0
"""Our choice: a procedure that was just saved is offered there soon, not in the same second."""
_OWN = ("/static/", "/health", "/ready", "/metrics")
"""Answered without the shop's procedures."""


class LookAgain:
    """The application behind a look at what is new, at most once in a while."""

    def __init__(self, app: ASGIApp, look: Callable[[], None], every_s: float = EVERY_S) -> None:
        self._app = app
        self._look = look
        self._every_s = every_s
        self._next = 0.0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        now = time.monotonic()
        if scope["type"] == "http" and now >= self._next and not scope["path"].startswith(_OWN):
            self._next = now + self._every_s
            await run_in_threadpool(self._ask)
        await self._app(scope, receive, send)

    def _ask(self) -> None:
        try:
            self._look()
        except StoreError:
            return  # the page says so itself, if it needs the store
